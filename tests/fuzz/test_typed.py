"""What a cook, or a cat on the keyboard, types: amounts, temperatures, days, hours, costs."""

from datetime import datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from holdlog.cli import said, wiring
from holdlog.core.amounts import read_amount, read_named
from holdlog.core.costs import read_cost
from holdlog.core.errors import Mistake
from holdlog.core.lots import lot_key
from holdlog.core.moments import from_local, iso, read_day, read_moment, zone
from holdlog.core.temperature import read_temperature
from holdlog.kitchen.samples import read_size
from holdlog.labels import starter
from holdlog.labels.routes.ipp_client import address
from holdlog.labels.routes.socket_route import host_and_port
from tests.fuzz.hostile import attempt, clear, evil, searched, texts

ZONES = tuple(map(ZoneInfo, ("UTC", "Pacific/Kiritimati", "Etc/GMT+12", "America/New_York")))
NOW = from_local(datetime(2026, 6, 5, 12), ZONES[0])
_FIGURES = st.sampled_from(
    ["1", "0", "00", "2.5", "2,5", "1,000", "9" * 7, "9" * 5000, "\u0663", "\uff13", "\u00b2",
     "1e9", "-1", "+3", "nan", "inf", "1_0", ".5", "5.", "0x10", "\u00bd"]
)  # fmt: skip
_UNITS = st.sampled_from(
    ["kg", "l", "fl oz", "each", "F", "C", "°F", "/kg", " per lb", "in", "cm", ""]
)
figures = st.builds("{}{}{}".format, _FIGURES, st.sampled_from(["", " ", "\n", "\u00a0"]), _UNITS)
_DAYS = st.sampled_from(
    ["0001-01-01", "9999-12-31", "2026-06-05", "2026-02-30", "20260605", "2026-W23-5", "today",
     "yesterday", "\u0662\u0660\u0662\u0666-\u0660\u0666-\u0660\u0665",
     "2026-06-05T", "-2026-06-05", "2026-6-5"]
)  # fmt: skip
_HOURS = st.sampled_from(
    ["14:30", "24:00", "9.15", "9h15", "99:99", "\u0661\u0664:\u0663\u0660", "14:30:00", "1:1", ""]
)
moments = st.builds("{}{}{}".format, _DAYS, st.sampled_from([" ", "T", ""]), _HOURS)
typed = st.one_of(texts, figures, moments, st.builds("{}{}".format, figures, evil))


@given(typed, st.sampled_from(ZONES))
@searched(300)
def test_whatever_is_typed_is_read_or_refused_with_a_clear_line(text: str, where: ZoneInfo) -> None:
    amount = attempt(lambda: read_amount(text))
    assert amount is None or (0 < amount.number < 10**7 and read_amount(str(amount)) == amount)
    reading = attempt(lambda: read_temperature(text))
    assert reading is None or read_temperature(str(reading)) == reading
    cost = attempt(lambda: read_cost(text))
    assert cost is None or read_cost(str(cost)) == cost
    day = attempt(lambda: read_day(text))
    assert day is None or (1900 <= day.year <= 2999 and read_day(day.isoformat()) == day)
    at = attempt(lambda: read_moment(text, NOW, where))
    assert at is None or at <= NOW
    if at is not None:
        assert iso(at, where) >= "1900"
    name, much = read_named(text)
    assert much is None or name
    attempt(lambda: zone(text))
    lot_key(text)


@given(typed)
@searched(150)
def test_figures_and_addresses_are_read_or_refused_with_a_clear_line(text: str) -> None:
    for job in (said._depth, address, host_and_port):
        attempt(lambda job=job: job(text))  # type: ignore[misc]
    ph = attempt(lambda: said._number("pH", text, 14))
    assert ph is None or 0 <= ph <= 14
    size = attempt(lambda: read_size(text))
    if size is not None:
        attempt(lambda: starter.starter(*size))


@pytest.mark.parametrize("text", ["0001-01-01 00:00", "9999-12-31 23:59", "9999-12-31 00:00"])
@pytest.mark.parametrize("where", ZONES, ids=str)
def test_a_year_that_no_journal_keeps_is_no_time(text: str, where: ZoneInfo) -> None:
    with pytest.raises(Mistake) as caught:
        read_moment(text, NOW, where)
    assert caught.value.code == "bad-time"
    clear(caught.value)


@pytest.mark.parametrize(
    "said_", ["9" * 5000, "\u0663", "-1", "1e3", " 5", "nan", "\x1b[2J", "600001"]
)
def test_a_patience_that_is_no_number_is_refused(
    said_: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("HOLDLOG_WAIT_MS", said_)
    with pytest.raises(Mistake, match="HOLDLOG_WAIT_MS is") as caught:
        wiring._patience()
    clear(caught.value)
