"""Facts as text and back: the one place that fixes how the journal is written.

Spelled out key by key, so that renaming a field of a fact cannot silently change what old
entries mean. Values that equal the default are left out. A kind, version, key or value that
is not listed raises: what cannot be understood must not be shown as safe.

To change a kind: give the new shape a new version and keep the old one readable.
"""

import json
from collections.abc import Callable, Hashable, Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import date
from decimal import Decimal, InvalidOperation
from functools import cache, lru_cache
from typing import Any, Literal, TypeAlias, cast, get_args

from holdlog.core import events
from holdlog.core.amounts import UNITS, Amount
from holdlog.core.chain import Entry
from holdlog.core.costs import Cost, Money
from holdlog.core.errors import Fault
from holdlog.core.events import KIND_OF, KINDS, Fact
from holdlog.core.temperature import Scale, Temperature
from holdlog.core.visible import one_line, quoted

# Of what is wrong with an entry, so many characters are told.
_SAID = 200
# A number of 10 to the millionth is no amount, and would be written out with a million noughts.
_LONGEST = 60

Json: TypeAlias = "str | int | bool | list[Json] | dict[str, Json]"


@dataclass(frozen=True, slots=True)
class Form:
    """How one kind of value is written and read. ``read`` raises ``ValueError`` if it cannot."""

    write: Callable[[Any], Json]
    read: Callable[[Json], Any]


def _exactly(wanted: type) -> Form:
    def read(value: Json) -> Json:
        # bool is a kind of int in Python; in the journal it is not.
        if type(value) is not wanted:
            raise ValueError(f"{value!r} where {wanted.__name__} was expected")
        return value

    return Form(read, read)


def _one_of(literal: object) -> Form:
    allowed = get_args(literal)

    def read(value: Json) -> Json:
        if value not in allowed:
            raise ValueError(f"{value!r} is none of {', '.join(map(str, allowed))}")
        return value

    return Form(read, read)


def _many(form: Form) -> Form:
    def read(value: Json) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise ValueError(f"{value!r} where a list was expected")
        return tuple(form.read(one) for one in value)

    return Form(lambda many: [form.write(one) for one in many], read)


def _text_of(value: Json) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} where text was expected")
    return value


def _read_text(value: Json) -> str:
    text = _text_of(value)
    text.encode()  # half a character raises: no screen, file or hash could hold it
    return text


def _read_decimal(value: Json) -> Decimal:
    try:
        number = Decimal(_text_of(value))
    except InvalidOperation as error:
        raise ValueError(f"{value!r} is not a number") from error
    if not number.is_finite() or str(number) != value or abs(number.adjusted()) > _LONGEST:
        raise ValueError(f"{value!r} is not a plain number")
    return number


def _read_date(value: Json) -> date:
    day = date.fromisoformat(_text_of(value))
    if day.isoformat() != value:
        raise ValueError(f"{value!r} is not a date as the journal writes it")
    return day


def _read_temperature(value: Json) -> Temperature:
    degrees, _, scale = _text_of(value).rpartition(" ")
    return Temperature(_read_decimal(degrees), SCALE.read(scale))


def _read_amount(value: Json) -> Amount:
    number, _, unit = _text_of(value).partition(" ")
    return Amount(_read_decimal(number), _read_unit(unit))


def _read_unit(value: Json) -> str:
    unit = _text_of(value)
    if unit not in UNITS:
        raise ValueError(f"{unit!r} is not a unit")
    return unit


def _one(shape: "Shape", made: type) -> Form:
    return Form(lambda value: _write(shape, value), lambda value: _read(shape, made, value))


Shape: TypeAlias = Mapping[str, Form]

TEXT = Form(_text_of, _read_text)
WHOLE = _exactly(int)
YES = _exactly(bool)
TEXTS = _many(TEXT)
SCALE = _one_of(Scale)
NUMBER = Form(str, _read_decimal)
DAY = Form(lambda day: cast("str", day.isoformat()), _read_date)
HOT = Form(lambda t: f"{t.degrees} {t.scale}", _read_temperature)
AMOUNT = Form(lambda amount: f"{amount.number} {amount.unit}", _read_amount)
UNIT = Form(str, _read_unit)
COST = _one({"number": NUMBER, "per": UNIT, "currency": TEXT}, Cost)
MONEY = _one({"number": NUMBER, "currency": TEXT}, Money)
PACKING = _one_of(events.Packing)
COUNTS = _one_of(events.DayCounting)

FOOD = _one(
    {
        "item": TEXT, "category": TEXT, "ph": NUMBER, "aw": NUMBER, "heat_treated": YES,
        "packaged": YES, "ready_to_eat": YES, "ambient_ingredients": YES, "made_on_site": YES,
        "commercial": YES, "variance": YES, "haccp_plan": YES, "susceptible_population": YES,
        "depth_in": NUMBER, "depth_cm": NUMBER, "reduced_oxygen": PACKING, "exempt_as": TEXT,
        "allergens": TEXTS, "house_days": WHOLE,
    },
    events.Food,
)  # fmt: skip
BOOK = _one({"id": TEXT, "role": TEXT, "digest": TEXT}, events.Book)
CONVENTIONS = _one(
    {"freeze_day": COUNTS, "thaw_day": COUNTS, "day_end": _one_of(events.DayEnd)},
    events.Conventions,
)
_MAKER: Shape = {
    "maker_use_by": DAY, "maker_date_for": _one_of(events.MakerDateFor), "lot": TEXT,
    "food": FOOD, "containers": TEXTS, "unit": TEXT, "amount": AMOUNT,
}  # fmt: skip

SHAPES: Mapping[tuple[str, int], Shape] = {
    ("kitchen", 1): {
        "name": TEXT, "zone": TEXT, "scale": SCALE, "closed": TEXTS, "susceptible": YES,
    },
    ("stack", 1): {"books": _many(BOOK), "conventions": CONVENTIONS, "ruling": TEXT},
    ("unit", 1): {"sort": _one_of(events.UnitSort), "order": WHOLE},
    ("item", 1): {
        "name": TEXT, "category": TEXT, "allergens": TEXTS, "cautions": TEXTS,
        "thaw_days": WHOLE, "house_days": WHOLE, "ready_to_eat": YES, "source": TEXT,
        "cost": COST,
    },
    ("printer", 1): {
        "route": _one_of(events.PrinterRoute), "address": TEXT,
        "encoding": _one_of(events.PrinterEncoding), "template": TEXT, "dpi": WHOLE,
        "default": YES,
    },
    ("printer-removed", 1): {},
    ("label-words", 1): {"languages": TEXTS, "fonts": TEXTS},
    ("prepared", 1): {
        "food": FOOD, "containers": TEXTS, "unit": TEXT, "amount": AMOUNT, "made_from": TEXTS,
    },
    ("received", 1): {"temperature": HOT, **_MAKER, "probe": TEXT},
    ("opened", 1): _MAKER,
    ("off-heat", 1): {},
    ("cooling-in", 1): {"surroundings": HOT, "method": TEXT},
    ("cooling", 1): {"temperature": HOT, "probe": TEXT},
    ("chilled", 1): {"temperature": HOT, "probe": TEXT},
    ("reading", 1): {"temperature": HOT, "probe": TEXT},
    ("frozen", 1): {"unit": TEXT},
    ("thawed", 1): {"method": _one_of(events.ThawMethod), "unit": TEXT},
    ("moved", 1): {"unit": TEXT},
    ("reheated", 1): {
        "temperature": HOT, "held_seconds": WHOLE, "took_minutes": WHOLE, "probe": TEXT,
    },
    ("hot-held", 1): {"temperature": HOT, "probe": TEXT},
    ("out", 1): {
        "plan": _one_of(Literal["2h", "4h", "6h"]), "temperature": HOT, "probe": TEXT,
    },
    ("packed", 1): {"how": PACKING, "haccp_plan": YES},
    ("excursion", 1): {
        "limit": HOT, "seconds": WHOLE, "unknown_seconds": WHOLE, "peak": HOT, "unit": TEXT,
        "began": WHOLE, "source": WHOLE,
    },
    ("split", 1): {"into": TEXTS, "unit": TEXT, "amount": AMOUNT},
    ("topped-up", 1): {"poured_in": TEXT},
    ("used", 1): {
        "ended_as": _one_of(events.EndedAs), "amount": AMOUNT, "into": TEXT, "part": YES,
    },
    ("discarded", 1): {
        "reason": TEXT, "amount": AMOUNT, "note": TEXT, "cost": MONEY, "part": YES,
    },
    ("labelled", 1): {
        "template": TEXT, "purpose": TEXT, "use_by": WHOLE, "days_left": WHOLE, "copy": WHOLE,
        "printer": TEXT, "state": _one_of(events.LabelState),
    },
    ("print-failed", 1): {"template": TEXT, "purpose": TEXT, "printer": TEXT, "reason": TEXT},
    ("round", 1): {"units": TEXTS},
    ("round-unit", 1): {"unit": TEXT, "read": WHOLE},
    ("round-seen", 1): {
        "code": TEXT, "unit": TEXT, "answer": _one_of(events.RoundAnswer), "shelf": WHOLE,
        "by_eye": YES,
    },
    ("round-found", 1): {"what": TEXT, "unit": TEXT, "amount": AMOUNT},
    ("round-noted", 1): {"note": TEXT, "unit": TEXT, "code": TEXT},
    ("round-ended", 1): {
        "seen": WHOLE, "not_seen": TEXTS, "elsewhere": TEXTS, "ended": TEXTS, "unknown": TEXTS,
        "raw_above": TEXTS, "in_charge": TEXT,
    },
    ("recalled", 1): {"what": TEXT, "why": TEXT},
    ("file-imported", 1): {
        "what": _one_of(Literal["items", "inventory"]), "file": TEXT, "digest": TEXT,
        "rows": WHOLE,
    },
    ("backed-up", 1): {"file": TEXT, "entries": WHOLE, "head": TEXT},
    ("restored", 1): {
        "file": TEXT, "entries": WHOLE, "head": TEXT, "same": WHOLE, "lost": WHOLE,
        "lost_from": WHOLE, "lost_to": WHOLE, "lost_head": TEXT, "unknown": YES, "aside": TEXT,
    },
    ("clock", 1): {"days": WHOLE},
    ("voided", 1): {"entry": WHOLE, "why": TEXT},
    ("confirmed", 1): {"entry": WHOLE, "evidence": TEXT},
    ("settled", 1): {"entry": WHOLE, "why": TEXT, "evidence": TEXT},
    ("unit-read", 1): {"temperature": HOT, "probe": TEXT},
    ("readings", 1): {
        "file": TEXT, "digest": TEXT, "scale": SCALE, "first": WHOLE, "last": WHOLE,
        "added": WHOLE, "already": WHOLE, "conflicting": WHOLE, "refused": WHOLE,
        "repeated": WHOLE, "kept": TEXT,
    },
    ("probe", 1): {"scale": _one_of(events.ProbeScale)},
    ("probe-checked", 1): {
        "method": _one_of(events.CheckMethod), "temperature": HOT, "expected": HOT, "passed": YES,
    },
}  # fmt: skip

# The version in which each kind is written today.
VERSIONS: Mapping[str, int] = dict(sorted(SHAPES))

_CANONICAL = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
).encode


def encode(fact: Fact) -> tuple[str, int, str]:
    """Kind, version and canonical text of ``fact``.

    The text is read back at once: an entry that could not be read again would stand in the
    journal for ever. Raises ``Fault("unwritable-entry")`` if it does not give the same fact.
    """
    kind = KIND_OF[type(fact)]
    version = VERSIONS[kind]
    try:
        text = _CANONICAL(_write(SHAPES[kind, version], fact))
        text.encode()
        same = decode(kind, version, text) == fact
    except (Fault, ValueError, TypeError, AttributeError) as error:
        raise _unwritable(kind, str(error)) from error
    if not same:
        raise _unwritable(kind, "it reads back differently")
    return kind, version, text


def decode(kind: str, version: int, body: str) -> Fact:
    """The fact that ``body`` holds. Raises ``Fault("unknown-entry")`` if it is not understood."""
    return _decoded(kind, version, body)


# The containers of a batch bear the same label: a list of some hundred reads each text once.
@lru_cache(maxsize=2048)
def _decoded(kind: str, version: int, body: str) -> Fact:
    shape = SHAPES.get((kind, version))
    if shape is None:
        raise _unknown(f"kind {quoted(kind)}, version {version}")
    try:
        return cast("Fact", _read(shape, KINDS[kind], _PARSE(body)))
    except (ValueError, TypeError, RecursionError) as error:
        raise _unknown(f"{kind}: {one_line(str(error), _SAID)}") from error


def fact_of(entry: Entry) -> Fact:
    """The fact of ``entry``. Raises ``Fault("unknown-entry")``, which names its number."""
    try:
        return decode(entry.kind, entry.version, entry.body)
    except Fault as fault:
        raise Fault(
            fault.code, f"Entry {entry.number} of {entry.site}: {fault.sentence}", fault.hint
        ) from fault


def _write(shape: Shape, value: object) -> Json:
    defaults = _defaults(cast("Hashable", type(value)))
    written: dict[str, Json] = {}
    for key, form in shape.items():
        part = getattr(value, key)
        if key not in defaults or part != defaults[key]:
            written[key] = form.write(part)
    return written


def _read(shape: Shape, made: type, value: Json) -> object:
    if not isinstance(value, dict):
        raise ValueError(f"{value!r} where an object was expected")
    parts = {}
    for key, written in value.items():
        form = shape.get(key)
        if form is None:
            raise ValueError(f"nothing is known of {key!r}")
        parts[key] = form.read(written)
    return made(**parts)


@cache
def _defaults(made: Any) -> Mapping[str, object]:
    found: dict[str, object] = {}
    for field in fields(made):
        if field.default is not MISSING:
            found[field.name] = field.default
        elif field.default_factory is not MISSING:
            found[field.name] = field.default_factory()
    return found


def _once(pairs: list[tuple[str, Json]]) -> dict[str, Json]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a key stands twice")
    return found


_PARSE = json.JSONDecoder(object_pairs_hook=_once).decode


def _unknown(what: str) -> Fault:
    return Fault(
        "unknown-entry",
        f"The journal holds something this holdlog does not understand ({what}).",
        "A newer holdlog may have written it: use that one. If not, run: holdlog doctor",
    )


def _unwritable(kind: str, why: str) -> Fault:
    return Fault(
        "unwritable-entry",
        f"The journal cannot keep this entry ({kind}: {why}).",
        "Nothing was written.",
    )
