"""Labels: what a container's label says today, printed to files and recorded.

The files come first and the record after them, so that the journal never claims a label that
was not made; the batch itself was committed before, so that a failed print loses nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.bundled import folder
from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Fault, Mistake
from holdlog.core.moments import Instant, end_of_day, local_date, show_day, show_moment, to_local
from holdlog.journal import entries as journal_entries
from holdlog.journal import on_hand
from holdlog.journal.engine import Connection
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.items import items
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.project import allergens
from holdlog.kitchen.records import Container, LiveRecords, Reader
from holdlog.labels import press, template
from holdlog.labels.label import Label, Purpose
from holdlog.labels.output import pdf_bytes, png_bytes
from holdlog.rules.history import History, in_order
from holdlog.rules.holding import Holding, holding
from holdlog.rules.kinds import CoolingRule
from holdlog.rules.measures import measures

if TYPE_CHECKING:
    from PIL import Image

TEMPLATE = "two-by-two"
TAPE = "tape"
RESOLUTIONS = (203, 300)


@dataclass(frozen=True, slots=True)
class Ready:
    """A label ready to print, its holding, and how many labels the container had before."""

    label: Label
    holding: Holding
    use_by: Instant | None
    copies_before: int
    printed_before: Instant | None


@dataclass(frozen=True, slots=True)
class Printed:
    """Labels that were made: their files, what readers must be told, and dates that moved."""

    labels: tuple[Ready, ...]
    files: tuple[Path, ...]
    warnings: tuple[str, ...]


def ready(kitchen: Kitchen, conn: Connection, code: str) -> Ready:
    """What the label of ``code`` says now."""
    kitchen = kitchen.current(conn)
    now = kitchen.moment(conn)
    reader = Reader(LiveRecords(conn, kitchen.site), kitchen.where)
    container = reader.container(code)
    unlabelled = _without_labels(container.history)
    stack = kitchen.stack(conn)
    # A fresh label is judged without the old one: this is the one way a date may move later.
    found = holding(unlabelled, stack, now, kitchen.where)
    row = on_hand.find(conn, kitchen.site, code)
    if row is None:
        raise Fault("no-row", f"{show(code)} is not on hand.", "Run: holdlog doctor")
    if row.ended_at is not None:
        raise Mistake(
            "gone", f"{row.item_name}, {show(code)}, is gone: {row.ended_as}.", "It gets no label."
        )
    labels = [each.fact for each in container.own if isinstance(each.fact, ev.Labelled)]
    printed = _printed_before(container.history)
    purpose = _purpose(found, row, container)
    same = [each for each in labels if each.purpose == purpose]
    label = _label(kitchen, conn, container, found, row, purpose, len(same))
    return Ready(label, found, found.use_by, len(same), printed)


def _printed_before(history: History) -> Instant | None:
    """The date on the label it bears: its own, or that of the container it was split from."""
    labels = [each.fact for each in in_order(history) if isinstance(each.fact, ev.Labelled)]
    last = labels[-1].use_by if labels else None
    return Instant(last) if last is not None else None


def _without_labels(history: History) -> History:
    kept = tuple(event for event in history.events if not isinstance(event.fact, ev.Labelled))
    return History(history.name, history.food, kept, history.joined)


def _purpose(found: Holding, row: ContainerRow, container: Container) -> Purpose:
    if found.state == "frozen":
        return "frozen"
    cooling = found.cooling is not None and found.cooling.whole != "met"
    if cooling and found.state != "hot-held":
        return "cooling"
    if any(isinstance(event.fact, ev.Thawed) for event in container.history.events):
        return "thawed"
    return "prepared" if row.made_kind == "prepared" else (
        "opened" if row.made_kind == "opened" else "received"
    )  # fmt: skip


def _label(
    kitchen: Kitchen,
    conn: Connection,
    container: Container,
    found: Holding,
    row: ContainerRow,
    purpose: Purpose,
    copies: int,
) -> Label:
    where = kitchen.where
    frozen = _last_day(container, ev.Frozen, kitchen)
    thawed = _last_day(container, ev.Thawed, kitchen)
    limits, times = _cooling_lines(kitchen, conn, container, found)
    by = container.making.entry.by if container.making is not None else ""
    return Label(
        purpose=purpose,
        item=row.item_name,
        code=row.code,
        number=row.number,
        count=row.count,
        started=to_local(row.made_at, where).replace(tzinfo=None),
        use_by=_shown_limit(found.use_by, kitchen),
        limit_needed=found.tcs != "not-tcs",
        best_by=found.best_by,
        days_left=found.days_left_once_thawed,
        frozen_on=frozen if purpose == "frozen" else None,
        thawed_on=thawed if purpose == "thawed" else None,
        amount=row.amount,
        by=by,
        unit=row.unit,
        # Out of temperature control the hour is the limit, wherever the tub stands.
        keep_at="" if found.state == "out" else _keep_at(kitchen, conn, container, row),
        allergens=allergens(container.history),
        cautions=_item_cautions(kitchen, conn, row.item_name),
        stands_on=kitchen.stack(conn).adopted.title,
        reprint=copies,
        cooling_limits=limits if purpose == "cooling" else (),
        cooling_deadlines=times if purpose == "cooling" else (),
    )


def _shown_limit(use_by: Instant | None, kitchen: Kitchen) -> date | datetime | None:
    """A limit at the end of a day is that day; any other is its local hour."""
    if use_by is None:
        return None
    day = local_date(use_by, kitchen.where)
    if use_by == end_of_day(day, kitchen.where):
        return day
    return to_local(use_by, kitchen.where).replace(tzinfo=None)


def _last_day(container: Container, kind: type[ev.Fact], kitchen: Kitchen) -> date | None:
    moments = [event.at for event in container.history.events if isinstance(event.fact, kind)]
    return local_date(max(moments), kitchen.where) if moments else None


def _cooling_lines(
    kitchen: Kitchen, conn: Connection, container: Container, found: Holding
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    when = "ambient" if container.history.food.ambient_ingredients else "cooked"
    rules = [rule for rule in kitchen.stack(conn).of_kind(CoolingRule) if rule.when == when]
    if not rules:
        return (), ()
    limits = tuple(
        limit.show(kitchen.scale) for limit in (rules[0].middle, rules[0].cold) if limit is not None
    )
    deadlines = (
        (found.cooling.deadline_first, found.cooling.deadline_whole) if found.cooling else ()
    )
    times = tuple(f"by {to_local(at, kitchen.where):%H:%M}" for at in deadlines if at is not None)
    return limits, times if len(times) == len(limits) else ()


def _keep_at(kitchen: Kitchen, conn: Connection, container: Container, row: ContainerRow) -> str:
    unit = kitchen.units.get(row.unit)
    if unit is None or unit.sort == "room":
        return ""
    if unit.freezes:
        return "keep frozen"
    limits = measures(kitchen.stack(conn), container.history.food.category, kitchen.where)
    rule = limits.hot if unit.sort == "hot box" else limits.cold
    side = "or above" if unit.sort == "hot box" else "or below"
    return f"{rule.limit.show(kitchen.scale)} {side}" if rule is not None else ""


def _item_cautions(kitchen: Kitchen, conn: Connection, name: str) -> tuple[str, ...]:
    return next((item.fact.cautions for item in items(kitchen, conn) if item.name == name), ())


def print_labels(
    kitchen: Kitchen,
    by: str,
    codes: Sequence[str],
    into: Path,
    *,
    dpi: int = 203,
) -> Printed:
    """Make the labels of ``codes`` as PNG files and one PDF in ``into``, and record them.

    Raises ``Fault("no-label")`` when the folder cannot be written, ``Mistake("unfit")`` for food
    that is to be discarded, ``Fault("changed")`` when something happened to a container while
    its label was made: no label is recorded then.
    """
    layout = template.load(folder("label_templates") / f"{TEMPLATE}.toml")
    with kitchen.db.reading() as conn:
        labels = [ready(kitchen, conn, code) for code in codes]
    for each in labels:
        _refuse_unfit(each)
    warnings: list[str] = []
    images = []
    for each in labels:
        rendered = press.render(layout, dpi, each.label)
        images.append(rendered.image)
        warnings += [f"{show(each.label.code)}: {warning}" for warning in rendered.warnings]
    files = _write_files(kitchen, labels, images, into, dpi)
    try:
        _record(kitchen, by, labels, TEMPLATE)
    except BaseException:
        for file in files:
            file.unlink(missing_ok=True)
        raise
    return Printed(tuple(labels), tuple(files), tuple(dict.fromkeys(warnings)))


def _write_files(
    kitchen: Kitchen,
    labels: Sequence[Ready],
    images: "Sequence[Image.Image]",
    into: Path,
    dpi: int,
) -> list[Path]:
    target = into / local_date(kitchen.now(), kitchen.where).isoformat()
    written: list[Path] = []
    try:
        target.mkdir(parents=True, exist_ok=True)
        for each, image in zip(labels, images, strict=True):
            copy = f"-copy{each.copies_before}" if each.copies_before else ""
            name = f"{each.label.code}-{each.label.purpose}{copy}"
            written.append(_write_new(target, name, ".png", png_bytes(image, dpi)))
        if images:
            first = labels[0]
            copy = f"-copy{first.copies_before}" if first.copies_before else ""
            name = f"{first.label.code}-{first.label.purpose}{copy}"
            name += f"-and-{len(labels) - 1}-more" if labels[1:] else ""
            written.append(_write_new(target, name, ".pdf", pdf_bytes(images, dpi)))
    except OSError as error:
        for file in written:
            file.unlink(missing_ok=True)
        raise Fault(
            "no-label",
            f"The labels could not be written to {target}: {error.strerror or error}.",
            "The batch is recorded. Write the labels by hand, or print them again with: "
            f"holdlog label {show(labels[0].label.code)} --to FOLDER",
        ) from error
    return written


def _write_new(target: Path, name: str, ending: str, content: bytes) -> Path:
    """Write a file of its own; the label of another moment is never overwritten."""
    number = 1
    while True:
        file = target / f"{name}{f'_{number}' if number > 1 else ''}{ending}"
        try:
            handle = file.open("xb")
        except FileExistsError:
            number += 1
            continue
        try:
            with handle:
                handle.write(content)
        except OSError:
            file.unlink(missing_ok=True)
            raise
        return file


def _refuse_unfit(each: Ready) -> None:
    if each.holding.verdict in ("discard", "refuse") and each.holding.state != "frozen":
        raise Mistake(
            "unfit",
            f"{each.label.item}, {show(each.label.code)}, gets no label: {each.holding.reason}",
            f"Discard it: holdlog discard {show(each.label.code)}",
        )


def _record(kitchen: Kitchen, by: str, labels: Sequence[Ready], template: str) -> None:
    with kitchen.writing(by) as write:
        # The newest label is the one that binds: no two are of one moment.
        if write.recorded_at == journal_entries.head(write.conn, kitchen.site)[2]:
            write.recorded_at = Instant(write.recorded_at + 1)
        for each in labels:
            again = ready(write.kitchen, write.conn, each.label.code)
            if (again.label, again.use_by) != (each.label, each.use_by):
                raise Fault(
                    "changed",
                    f"Something happened to {show(each.label.code)} while its label was made.",
                    "Make it again: holdlog label " + show(each.label.code),
                )
        write.append(
            *(
                (
                    ev.Labelled(
                        template=template,
                        purpose=each.label.purpose,
                        use_by=each.use_by,
                        days_left=each.label.days_left,
                        copy=each.copies_before,
                    ),
                    write.recorded_at,
                    each.label.code,
                )
                for each in labels
            )
        )
        write.settle(*(each.label.code for each in labels))


def write_by_hand(kitchen: Kitchen, by: str, codes: Sequence[str]) -> tuple[Ready, ...]:
    """The labels of ``codes`` for a cook to write on tape. They are recorded like any other: a
    date on tape binds as a printed one does.
    """
    with kitchen.db.reading() as conn:
        labels = tuple(ready(kitchen, conn, code) for code in codes)
    for each in labels:
        _refuse_unfit(each)
    _record(kitchen, by, labels, TAPE)
    return labels


def tape(kitchen: Kitchen, each: Ready) -> list[str]:
    """What to write on tape when there is no printer, code included."""
    label = each.label
    lines = [label.item.upper(), *_tape_warnings(each)]
    verb = {"opened": "opened", "received": "received"}.get(label.purpose, "made")
    lines.append(f"{verb} {show_day(label.started.date())} {label.started:%H:%M}  {label.by}")
    if each.use_by is not None:
        shown = label.use_by
        hour = f" {shown:%H:%M}" if isinstance(shown, datetime) else ""
        lines.append(f"USE BY {show_day(local_date(each.use_by, kitchen.where)).upper()}{hour}")
        if label.purpose == "cooling":
            lines[-1] = f"then {lines[-1]}"
    elif label.purpose != "frozen":
        lines.append(_tape_undated(label))
    if label.allergens:
        lines.append("CONTAINS " + ", ".join(label.allergens))
    lines.append(f"{show(label.code)}  {label.number} of {label.count}")
    return lines


def _tape_undated(label: Label) -> str:
    if label.limit_needed:
        return "NO LIMIT KNOWN - ask the person in charge"
    if label.best_by is None:
        return "NO DATE NEEDED - not TCS"
    return f"not TCS - BEST BY {show_day(label.best_by).upper()}"


def _tape_warnings(each: Ready) -> list[str]:
    """What must be read before the date is."""
    label, verdict = each.label, each.holding.verdict
    lines = []
    if label.purpose == "frozen":
        left = label.days_left
        days = f", {left} day{'' if left == 1 else 's'} left once thawed" if left else ""
        lines.append("FROZEN" + days)
        if left == 0:
            lines.append("DO NOT USE - no days left")
    if label.purpose == "cooling":
        lines.append("COOLING - DO NOT SERVE")
        times = label.cooling_deadlines or ("",) * len(label.cooling_limits)
        lines += [
            f"{limit} at ____ {by}".rstrip()
            for limit, by in zip(label.cooling_limits, times, strict=True)
        ]
    elif verdict in ("discard", "refuse", "hold", "reheat"):
        lines.append(f"DO NOT SERVE - {each.holding.reason}")
    return list(dict.fromkeys(lines))


def moved(kitchen: Kitchen, each: Ready) -> str:
    """What to say when a fresh label carries another date than the one before; else empty."""
    if each.printed_before is None or each.use_by is None or each.printed_before == each.use_by:
        return ""
    return (
        f"{show(each.label.code)}: the label before said "
        f"{show_moment(each.printed_before, kitchen.where)}, this one says "
        f"{show_moment(each.use_by, kitchen.where)}. Take the old label off."
    )
