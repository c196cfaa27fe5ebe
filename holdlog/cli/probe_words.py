"""How checks of thermometers are told: in words for people, in JSON for programs."""

from typing import TYPE_CHECKING, Any

from holdlog.cli.show import WORDS, at_told, count_of, in_words, moment, row_json

if TYPE_CHECKING:
    from decimal import Decimal

    from holdlog.core.moments import Instant
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.probes import Changed, Checked, Probe, Seen
    from holdlog.reports.tables import Table

SHOWS = {"F": "°F", "C": "°C", "FC": "°F and °C"}
SECTION = "FDA Food Code 4-203.11"
RAW = "Readings are kept as they were read: an offset is shown, and never worked into them."
HOW_OFTEN = (
    "How often is the kitchen's choice: no code that holdlog keeps names a number of days. "
    "Check after a fall, too."
)


def typed(name: str) -> str:
    """A name as it is typed on a command line."""
    import shlex

    return shlex.quote(name)


def freezing(probe: "Probe") -> str:
    """What it should show in ice, as it is typed."""
    return "0C" if probe.scale == "C" else "32F"


def _off(offset: "Decimal", scale: str) -> str:
    if not offset:
        return "exactly right"
    return f"{abs(offset.normalize()):f} °{scale} too {'high' if offset > 0 else 'low'}"


def offset_told(check: "Seen | None") -> str:
    """How far off it was."""
    return _off(check.offset, check.reads.scale) if check is not None else ""


def last_told(check: "Seen | None", now: "Instant", shop: "Kitchen") -> str:
    """When it was last checked, and how long ago."""
    from holdlog.core.moments import local_date

    if check is None:
        return "never checked"
    days = (local_date(now, shop.where) - local_date(check.at, shop.where)).days
    ago = "today" if days == 0 else f"{count_of(days, 'day')} ago"
    return f"{at_told(check.at, shop)}, {ago}"


def standing(probe: "Probe", shop: "Kitchen") -> str:
    """Whether it is good or in doubt."""
    if probe.in_doubt:
        return f"IN DOUBT {_since(probe, shop)}"
    if probe.ice is None:
        return ""
    return "good" if probe.ice.counts else "good, not yet confirmed"


def _since(probe: "Probe", shop: "Kitchen") -> str:

    if probe.doubted_since is None:
        return "from the first: it never had a good check"
    return f"since its good check of {at_told(probe.doubted_since, shop)}"


def checked_parts(done: "Checked", shop: "Kitchen") -> "list[Table | str]":
    """What a check found and changed, and what to do now."""
    found, probe = done.found, done.probe
    allowed = f"{round(found.allowed, 1).normalize():f} °{found.scale}"
    where = "in ice" if found.decides else "in boiling water"
    expected = f"{found.expected:f} °{found.scale}"
    head = (
        f"{probe.name}, {where}: {_off(found.offset, found.scale)} (expected {expected}, "
        f"{allowed} is allowed)."
    )
    parts: list[Table | str] = [head]
    if not found.decides:
        parts += _advice(done)
    elif found.within:
        parts += _good(done)
    else:
        parts += _bad(done, shop)
    parts += _changes(done)
    if done.again:
        parts += ["", *again(probe, list(done.again), shop)]
    if done.units:
        units = ", ".join(done.units)
        parts += ["", f"Units whose air was last read on it: {units}. Read them again, too."]
    return parts


def _advice(done: "Checked") -> list[str]:
    name = typed(done.probe.name)
    check = f"holdlog probe check {name} {freezing(done.probe)}"
    if done.found.within:
        return ["Boiling water says it is right. Only ice decides."]
    return ["Boiling water says it is off. Only ice decides.", f"Check it there now: {check}"]


def _good(done: "Checked") -> list[str]:
    if done.waits:
        said = (
            "Good; but it was entered on a later day, and ends no doubt until the person in charge "
            "confirms it:"
        )
        return [said, f'  holdlog confirm {done.number} --evidence "probe sheet 4"']
    if done.ended:
        return [
            "Good. What is read on it from here on counts again.",
            "What was read on it while it was in doubt stays in doubt.",
        ]
    return [f"Good. {RAW}"]


def _bad(done: "Checked", shop: "Kitchen") -> list[str]:
    again_in_ice = f"holdlog probe check {typed(done.probe.name)} {freezing(done.probe)}"
    return [
        f"OUT OF TOLERANCE ({SECTION}).",
        f"What was read on it proves nothing {_since(done.probe, shop)}.",
        "Take it out of use; or set it right, and check it again.",
        f"  {again_in_ice}",
        f'Typed wrong? holdlog void {done.number} --why "typed wrong"',
    ]


def _changes(done: "Checked") -> "list[Table | str]":
    from holdlog.core.codes import show
    from holdlog.reports.tables import Table

    parts: list[Table | str] = []
    groups = (
        ("Judged anew, because it rests on this probe", done.changed),
        ("Gone already, and it rested on this probe: tell the person in charge", done.gone),
    )
    for title, changed in groups:
        rows = tuple(
            (
                WORDS[each.now.verdict], show(each.row.code),
                "\n".join(filter(None, (each.row.item_name, each.now.reason))),
                each.row.ended_as if each.row.ended_at is not None else each.row.unit,
                f"was: {WORDS[each.was.verdict]}",
            )
            for each in changed
        )  # fmt: skip
        if rows:
            parts += ["", Table(title, ("", "code", "item", "", ""), rows)]
    if any(each.now.cooling is not None and each.now.cooling.unproven for each in done.changed):
        parts.append(
            "Cooling not proven: if another probe or a logger saw it, enter that reading with "
            'holdlog cool CODE 40F --at WHEN --evidence "logger, walk-in". Else discard it.'
        )
    if not parts and done.found.decides and not done.found.within:
        parts = ["", "It changes no verdict and no date."]
    return parts


def again(probe: "Probe", rows: "list[ContainerRow]", shop: "Kitchen") -> "list[Table | str]":
    """What was last read on a thermometer in doubt, and that it is to be read again."""
    from holdlog.core.codes import show
    from holdlog.kitchen.doubts import called
    from holdlog.kitchen.due import line
    from holdlog.reports.tables import Table

    with shop.db.reading() as conn:
        at = shop.moment(conn)
        words = {row.code: WORDS[line(shop, conn, row, at).verdict] for row in rows}
    lines = tuple((show(row.code), row.item_name, row.unit, words[row.code]) for row in rows)
    title = f"Last read on {called(probe.name)}, which is in doubt"
    return [
        Table(title, ("code", "item", "unit", ""), lines),
        "Read each again now on a good probe: holdlog read CODE READING --probe NAME",
    ]


def doubt_said(shop: "Kitchen", name: str) -> list[str]:
    """A warning for whoever has just read a thermometer that is in doubt; else nothing."""
    from holdlog.kitchen.doubts import called
    from holdlog.kitchen.probes import find

    if not name.strip():
        return []
    with shop.db.reading() as conn:
        probe = find(shop, conn, name)
    if not probe.in_doubt:
        return []
    return [f"IN DOUBT: {called(probe.name)}. This reading proves nothing: use a good one."]


# ---- for programs ----------------------------------------------------------------------------


def _seen_json(check: "Seen | None", shop: "Kitchen") -> dict[str, Any] | None:
    if check is None:
        return None
    return {
        "entry": check.number,
        "at": moment(check.at, shop),
        "by": check.by,
        "method": check.method,
        "reads": str(check.reads),
        "expected": str(check.expected),
        "offset": str(check.offset),
        "passed": check.passed,
        "counts": check.counts,
    }


def probe_json(probe: "Probe", shop: "Kitchen") -> dict[str, Any]:
    """A thermometer for programs."""
    return {
        "probe": probe.name,
        "scale": probe.scale,
        "last_ice_check": _seen_json(probe.ice, shop),
        "last_check": _seen_json(probe.last, shop),
        "in_doubt": probe.in_doubt,
        "doubted_since": moment(probe.doubted_since, shop),
    }


def _changed_json(changed: "Changed", shop: "Kitchen") -> dict[str, Any]:
    return {
        **row_json(changed.row, shop),
        "was": changed.was.verdict,
        "verdict": changed.now.verdict,
        "why": in_words(changed.now.reason) or None,
    }


def checked_json(done: "Checked", shop: "Kitchen") -> dict[str, Any]:
    """What a check found and changed, for programs."""
    found = done.found
    return {
        **probe_json(done.probe, shop),
        "entry": done.number,
        "method": "ice" if found.decides else "boiling",
        "offset": str(found.offset),
        "allowed": str(found.allowed),
        "expected": str(found.expected),
        "passed": found.within,
        "decides": found.decides,
        "waits_for_confirming": done.waits,
        "changed": [_changed_json(each, shop) for each in done.changed],
        "gone": [_changed_json(each, shop) for each in done.gone],
        "read_again": [row.code for row in done.again],
        "units": list(done.units),
    }
