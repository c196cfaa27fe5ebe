"""The kitchen's printers: how one is reached, which one labels go to, what they are worded in."""

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime
from pathlib import Path

import pytest

from holdlog.core.errors import Mistake
from holdlog.kitchen.printers import (
    Device,
    add_device,
    default_device,
    devices,
    find_device,
    remove_device,
    route_of,
    set_words,
    spoken,
)
from holdlog.kitchen.samples import KINDS, checked, laid_out, read_size, sample, spots, write_new
from holdlog.kitchen.trial import Tried, try_out
from holdlog.labels import printer, template
from holdlog.labels.printer import Condition, Outcome, Printer
from tests.kitchen.shop import Shop

PLAIN = Device("pass", "queue", "192.0.2.17:9100", "pdf", "two-by-two", 203)


def never(_: Printer) -> Condition:
    raise AssertionError("this printer cannot be asked")


def add(
    shop: Shop,
    name: str = "pass",
    address: str = "192.0.2.17:9100",
    *,
    ask: Callable[[Printer], Condition] = never,
    **said: object,
) -> Device:
    wanted = replace(PLAIN, name=name, address=address, **said)  # type: ignore[arg-type]
    return add_device(shop.kitchen, "jr", wanted, ask, said=frozenset(said)).device


def known(shop: Shop) -> dict[str, bool]:
    """The printers by name, and whether labels go there."""
    with shop.db.reading() as conn:
        return {each.name: each.default for each in devices(shop.kitchen, conn)}


def test_labels_go_to_the_first_printer_until_another_is_made_the_kitchens_own(shop: Shop) -> None:
    assert known(shop) == {}
    add(shop)
    add(shop, "office", "office-queue")
    assert known(shop) == {"pass": True, "office": False}
    add(shop, "office", "office-queue", default=True)
    assert known(shop) == {"pass": False, "office": True}
    add(shop, "pass", "192.0.2.18:9100")
    assert known(shop) == {"pass": False, "office": True}
    remove_device(shop.kitchen, "jr", "OFFICE")
    assert known(shop) == {"pass": False}
    with shop.db.reading() as conn:
        assert default_device(shop.kitchen, conn) is None
    assert shop.everything() == shop.replayed()


def test_a_printer_added_again_takes_the_place_of_the_old_one(shop: Shop) -> None:
    add(shop)
    again = add(shop, "Pass", "192.0.2.99:9100", template="two-by-one", dpi=300)
    with shop.db.reading() as conn:
        (found,) = devices(shop.kitchen, conn)
    assert found == again
    assert (found.name, found.address, found.template, found.dpi) == (
        "pass", "192.0.2.99:9100", "two-by-one", 300,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("address", "route"),
    [
        ("ipp://printer.example/ipp/print", "ipp"),
        ("IPPS://printer.example/ipp", "ipp"),
        ("192.0.2.17:9100", "socket"),
        ("label-printer.example:9100", "socket"),
        ("[2001:db8::17]:9100", "socket"),
        ("./labels", "folder"),
        ("/srv/labels", "folder"),
        ("~/labels", "folder"),
        ("label_queue", "queue"),
    ],
)
def test_the_form_of_the_address_says_how_a_printer_is_reached(address: str, route: str) -> None:
    assert route_of(address) == route


def test_what_is_not_said_is_what_such_printers_usually_understand(shop: Shop) -> None:
    assert (add(shop).route, add(shop).encoding) == ("socket", "zpl")
    folder = add(shop, "files", "./labels")
    assert (folder.route, folder.encoding) == ("folder", "png")
    assert Path(folder.address).is_absolute()
    queue = add(shop, "office", "office-queue")
    assert (queue.route, queue.encoding) == ("queue", "pdf")
    assert add(shop, "till", "192.0.2.20:9100", encoding="escpos").encoding == "escpos"


def test_a_printer_that_can_be_asked_says_what_it_understands_itself(shop: Shop) -> None:
    address = "ipp://printer.example/ipp/print"
    says = Condition(True, "idle", (), ("pdf", "pwg", "png"), (300, 600), ())
    asked = add(shop, address=address, ask=lambda _: says)
    assert (asked.encoding, asked.dpi) == ("pwg", 300)
    fixed = add(shop, address=address, ask=lambda _: says, encoding="pdf", dpi=600)
    assert (fixed.encoding, fixed.dpi) == ("pdf", 600)
    silent = printer.unreachable("it is off")
    assert add(shop, address=address, ask=lambda _: silent).encoding == "pwg"


@pytest.mark.parametrize(
    ("said", "says"),
    [
        ({"name": " "}, "no name for a printer"),
        ({"template": "napkin"}, "no label template 'napkin'"),
        ({"encoding": "pwg", "route": "socket"}, "does not carry 'pwg'"),
        ({"address": "two words"}, "no name of a print queue"),
        ({"dpi": 100}, "100 dpi"),
    ],
    ids=["no name", "no template", "wrong form", "no queue", "too coarse"],
)
def test_a_printer_that_cannot_be_is_refused_and_not_written(
    shop: Shop, said: dict[str, object], says: str
) -> None:
    with pytest.raises(Mistake, match=says):
        add(shop, **said)  # type: ignore[arg-type]
    assert known(shop) == {}


def test_an_unknown_printer_is_told_with_those_there_are(shop: Shop) -> None:
    with shop.db.reading() as conn, pytest.raises(Mistake) as told:
        find_device(shop.kitchen, conn, "bar")
    assert "holdlog printer add" in told.value.hint
    add(shop)
    with shop.db.reading() as conn:
        with pytest.raises(Mistake) as told:
            find_device(shop.kitchen, conn, "bar")
        assert find_device(shop.kitchen, conn, " PASS").name == "pass"
    assert "pass" in told.value.hint


# ---- trying one out --------------------------------------------------------------------------


def tried(shop: Shop, device: Device, *, with_label: bool = True) -> Tried:
    now = datetime(2026, 6, 1, 6, 0)
    return try_out(
        shop.kitchen, device, now, shop.hand.draw, lambda _: None, lambda _: None,
        with_label=with_label,
    )  # fmt: skip


def test_a_test_label_is_printed_where_the_printer_can_be_reached_and_never_recorded(
    shop: Shop, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = len(shop.entries())
    titles: list[str] = []

    def send(*given: object, **_: object) -> Outcome:
        titles.append(str(given[3]))
        return Outcome("completed")

    monkeypatch.setattr(printer, "send", send)
    reachable = Condition(True, "idle", (), (), (), ())
    monkeypatch.setattr(printer, "ask", lambda _: reachable)
    device = replace(PLAIN, route="socket", encoding="zpl")
    assert tried(shop, device).outcome == Outcome("completed")
    assert tried(shop, device, with_label=False).outcome is None
    monkeypatch.setattr(printer, "ask", lambda _: printer.unreachable("it is off"))
    assert tried(shop, device).outcome is None
    assert titles == ["Tern & Tide: test"]
    folder = replace(PLAIN, route="folder", address=str(tmp_path / "labels"), encoding="png")
    file = tried(shop, folder).file
    assert file is not None
    assert file.read_bytes().startswith(b"\x89PNG")
    assert len(shop.entries()) == before


# ---- languages -------------------------------------------------------------------------------


def test_labels_are_in_english_until_the_kitchen_says_otherwise(shop: Shop) -> None:
    def now() -> tuple[str, ...]:
        with shop.db.reading() as conn:
            return spoken(shop.kitchen, conn).languages

    assert now() == ("en",)
    set_words(shop.kitchen, "jr", ("EN", "es"), None)
    assert now() == ("en", "es")
    with pytest.raises(Mistake, match="No labels in 'tlh'"):
        set_words(shop.kitchen, "jr", ("tlh",), None)
    with pytest.raises(Mistake, match="no such file"):
        set_words(shop.kitchen, "jr", (), ("nowhere.ttf",))
    assert now() == ("en", "es")


def test_a_font_is_kept_while_the_language_changes_and_until_it_is_taken_back(shop: Shop) -> None:
    fonts = Path(printer.__file__).parent / "fonts"
    font = next(fonts.glob("*.ttf"))
    assert set_words(shop.kitchen, "jr", (), (str(font),)).fonts == (font.resolve(),)
    assert set_words(shop.kitchen, "jr", ("fr",), None).fonts == (font.resolve(),)
    assert set_words(shop.kitchen, "jr", (), ()).fonts == ()


# ---- templates -------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", KINDS)
def test_every_sample_stands_on_the_usual_template(kind: str) -> None:
    laid = laid_out(template.find("two-by-two"), kind, 203)
    found = spots(laid)
    assert any(sample(kind).item in spot.says for spot in found)
    assert all(spot.x >= 0 and spot.x + spot.width <= 50.9 for spot in found)
    assert all(spot.y >= 0 and spot.y + spot.height <= 50.9 for spot in found)


def test_a_new_template_of_any_size_has_no_fault_and_is_never_written_over(tmp_path: Path) -> None:
    file = tmp_path / "ours.toml"
    write_new(file, *read_size("60x40"))
    assert checked(str(file)).faults == ()
    form = template.find(str(file))
    assert (form.width, form.height) == (60, 40)
    with pytest.raises(Mistake, match="is there already"):
        write_new(file, 60, 40)
    with pytest.raises(Mistake, match="5 x 5 mm"):
        write_new(tmp_path / "tiny.toml", 5, 5)
    assert not (tmp_path / "tiny.toml").exists()


def test_every_fault_of_a_template_is_told_at_once(tmp_path: Path) -> None:
    file = tmp_path / "ours.toml"
    write_new(file, 60, 40)
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("width = 60", 'width = "wide"\ncolour = "red"', 1))
    faults = checked(str(file)).faults
    assert any("width" in fault for fault in faults)
    assert any("colour" in fault for fault in faults)
    assert all("ours.toml" in fault for fault in faults)


@pytest.mark.parametrize(
    ("text", "size"),
    [("50x30", (50, 30)), ("50 x 30 mm", (50, 30)), ("2x1in", (50.8, 25.4)), ("62×40", (62, 40))],
)
def test_sizes_as_people_write_them(text: str, size: tuple[float, float]) -> None:
    assert read_size(text) == pytest.approx(size)


@pytest.mark.parametrize("text", ["", "50", "50x", "axb", "1x2x3"])
def test_what_is_no_size_is_said_so(text: str) -> None:
    with pytest.raises(Mistake, match="no size"):
        read_size(text)
