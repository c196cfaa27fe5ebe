"""The end of a job that makes containers: their labels, and what the cook is told."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import typer

from holdlog.cli.onto import make
from holdlog.cli.show import (
    count_of,
    emit,
    looks_recalled,
    note,
    printed_json,
    row_json,
    rows_told,
    say,
    stopped,
)
from holdlog.core.codes import show

if TYPE_CHECKING:
    from holdlog.cli.onto import Place
    from holdlog.core.errors import HoldlogError
    from holdlog.journal.on_hand import ContainerRow
    from holdlog.kitchen.kitchen import Kitchen
    from holdlog.kitchen.label import Ready
    from holdlog.kitchen.prep import Batch, Recorded
    from holdlog.kitchen.printing import Printed


def record_and_finish(
    shop: "Kitchen", by: str, batch: "Batch", place: "Place", *, json: bool
) -> None:
    """Record a batch, then make its labels and show what was done."""
    from holdlog.kitchen.prep import record

    recorded = record(shop, by, batch)
    for line in _recalled(batch, recorded):
        note(line)
    finish(shop, by, list(recorded.rows), place, json=json, headline=_headline(batch, recorded))


def _headline(batch: "Batch", recorded: "Recorded") -> str:
    tubs = count_of(len(recorded.rows), "container")
    amount = f", {batch.amount}" if batch.amount else ""
    held = " ON HOLD: DO NOT SERVE." if recorded.recalled else ""
    return f"{recorded.batch}: {batch.item.name}{amount}, {tubs} {batch.kind}.{held}"


def _recalled(batch: "Batch", recorded: "Recorded") -> list[str]:
    """That its lot is recalled, or looks like one that is: said beside the result, so that it is
    seen where that goes to a program.
    """
    lot = batch.lot.strip()
    lines = [
        f"{looks_recalled(each, lot)} If it is that lot: "
        f'holdlog recall --lot "{lot}" --why "{each.what}, mistyped"'
        for each in recorded.near
    ]
    if recorded.recalled:
        lines.append(
            f"LOT {lot} IS RECALLED: {recorded.recalled}. It is on hold. Keep it apart; send it "
            f"back: holdlog use {show(recorded.rows[0].code)} --as returned"
        )
    return lines


def finish(
    shop: "Kitchen",
    by: str,
    rows: "list[ContainerRow]",
    place: "Place",
    *,
    json: bool,
    headline: str,
    without: str = "",
    unseen: str = "",
    also: "dict[str, Any] | None" = None,
) -> None:
    """Make the labels of ``rows`` and show what was done. The rows are recorded already: a
    label that cannot be made leaves them as they are, waiting for one, and says what to write on
    tape meanwhile.

    ``without`` is the headline where labels were all that was wanted and there are none; a
    mistake is all that is told then. ``unseen`` is the headline where nobody knows whether they
    came out. ``also`` is what else programs are told.
    """
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.tape import tape as tape_lines

    done = _labels(shop, by, rows, place)
    if without and done.failed is not None:
        # By a clock that went backwards, no date is told either.
        if isinstance(done.failed, Mistake) or done.failed.code == "clock-back":
            raise done.failed
        headline = without
    if unseen and done.printed is not None and done.printed.unseen:
        headline = unseen
    rows = as_labelled(shop, rows)
    if json:
        data: dict[str, Any] = {
            **(also or {}),
            "containers": [row_json(row, shop) for row in rows],
            "printed": printed_json(done.printed, shop),
            "tape": [tape_lines(shop, each) for each in done.by_hand],
        }
        if done.failed is not None:
            data["waiting"] = [row.code for row in rows]
            failed = done.failed
            data["error"] = {"code": failed.code, "says": failed.sentence, "hint": failed.hint}
        emit(data)
    else:
        say([headline, *rows_told(rows, shop), *_beside(rows), *_labels_told(done, rows, shop)])
    if done.failed is not None:
        note(done.failed.line())
        raise typer.Exit(1)  # even where it was a mistake: what stands above is recorded


def _labels_told(done: "_Done", rows: "Sequence[ContainerRow]", shop: "Kitchen") -> list[str]:
    from holdlog.kitchen.tape import tape as tape_lines

    labels = done.printed.labels if done.printed is not None else done.by_hand
    lines = _cooling(labels)
    lines += _dates_told(done, labels, rows, shop)
    if done.by_hand:
        alone = len(done.by_hand) == 1
        meanwhile = "" if done.failed is None else " meanwhile"
        lines.append(f"Write on tape{meanwhile}{':' if alone else ', one each:'}")
        for each in done.by_hand:
            lines += ["", *(f"    {text}" for text in tape_lines(shop, each))]
    if done.by_hand and done.failed is not None:
        codes = " ".join(show(each.label.code) for each in done.by_hand)
        tag = " --discard-tag" if done.by_hand[0].label.purpose == "discard" else ""
        lines += ["", f"Written? Record it: holdlog label {codes} --tape{tag}"]
    lines += [
        f"{show(each.label.code)}: its old label stays on and binds, until a new one is made."
        for each in done.stays
    ]
    if done.printed is None:
        return lines
    lines += printed_told(done.printed)
    if done.printed.doubted or (done.printed.unseen and _bound(rows)):
        which = show(labels[0].label.code) if not labels[1:] else "--waiting"
        lines.append(f"In hand? Say so: holdlog label {which} --seen")
    return lines


def _dates_told(
    done: "_Done", labels: "Sequence[Ready]", rows: "Sequence[ContainerRow]", shop: "Kitchen"
) -> list[str]:
    """Which labels carry another date than those before, and whether that one binds."""
    from holdlog.kitchen.label import moved

    if done.failed is not None:
        return []
    bound = _bound(rows)
    return [
        f"{show(each.label.code)}: the earlier date of the label before binds until somebody has "
        "seen the new one."
        if each.label.code in bound and done.printed is not None and done.printed.unseen
        else moved(shop, each)
        for each in labels
        if moved(shop, each)
    ]


def _bound(rows: "Sequence[ContainerRow]") -> set[str]:
    """The containers that an older label binds to an earlier date."""
    return {row.code for row in rows if row.binds == "printed-label"}


def printed_told(printed: "Printed") -> list[str]:
    """Where labels went and what became of them, as far as that is known."""
    count = count_of(len(printed.labels), "label")
    why = printed.reason
    who = "they" if printed.labels[1:] else "it"
    look = "" if "look whether" in why else f" Look whether {who} came out."
    told = {
        "rendered": f"Labels: {printed.files[-1] if printed.files else ''}",
        "sent": f"{count} sent to {printed.printer}: "
        f"{stopped(why or 'it does not say what became of it')}{look}",
        "accepted": f"{printed.printer} took {count} and has not finished"
        f"{stopped(f': {why}' if why else '')}{look}",
        "completed": stopped(f"{printed.printer} printed {count}{f' ({why})' if why else ''}"),
    }
    return [told[printed.state], *(f"Look at the label: {each}" for each in printed.warnings)]


def as_labelled(shop: "Kitchen", rows: "list[ContainerRow]") -> "list[ContainerRow]":
    """The rows once more: a fresh label frees a date that an old one had bound. Where nobody can
    look, they are as they were recorded, and stricter at most.
    """
    from holdlog.core.errors import Fault
    from holdlog.journal import on_hand

    try:
        with shop.db.reading() as conn:
            return [on_hand.find(conn, shop.site, row.code) or row for row in rows]
    except Fault:
        return rows


@dataclass(frozen=True, slots=True)
class _Done:
    """What became of the labels: made, or to write ``by_hand``, or ``failed``; of those that
    failed, ``stays`` are the containers whose old label says an earlier date than a new one would.
    """

    printed: "Printed | None" = None
    by_hand: "Sequence[Ready]" = ()
    stays: "Sequence[Ready]" = ()
    failed: "HoldlogError | None" = None


def _labels(shop: "Kitchen", by: str, rows: "list[ContainerRow]", place: "Place") -> _Done:
    """The labels where they are to go. Where that fails, what to write by hand meanwhile is
    only offered: nobody knows yet whether it will be written.
    """
    from holdlog.core.errors import HoldlogError
    from holdlog.kitchen.printing import write_by_hand

    codes = [row.code for row in rows]
    try:
        if place.device is None and place.folder is None:
            return _Done(by_hand=write_by_hand(shop, by, codes, tag=place.wanted.tag))
        return _Done(make(shop, by, codes, place))
    except KeyboardInterrupt:
        return _Done(failed=_stopped(codes[0]))
    except HoldlogError as error:
        by_hand, stays = _meanwhile(shop, rows, place)
        return _Done(None, by_hand, stays, error)


def _meanwhile(
    shop: "Kitchen", rows: "list[ContainerRow]", place: "Place"
) -> "tuple[list[Ready], list[Ready]]":
    from holdlog.core.errors import HoldlogError
    from holdlog.kitchen.label import refuse_unfit
    from holdlog.kitchen.printing import look_at

    try:
        found = look_at(shop, [row.code for row in rows], tag=place.wanted.tag)
        for each in found:
            refuse_unfit(each)
    except HoldlogError:
        return [], []
    bound = _bound(as_labelled(shop, rows))
    stays = [each for each in found if each.label.code in bound]
    return [each for each in found if each not in stays], stays


def _stopped(code: str) -> "HoldlogError":
    from holdlog.core.errors import Fault

    return Fault(
        "stopped",
        "Stopped before the label was made; what is shown above is recorded.",
        f"Make the label with: holdlog label {show(code)}",
    )


def _cooling(labels: "Sequence[Ready]") -> list[str]:
    """When the next readings are due, for a batch that is still cooling."""
    cooling = next((each.label for each in labels if each.label.purpose == "cooling"), None)
    if cooling is None:
        return []
    times = cooling.cooling_deadlines or ("",) * len(cooling.cooling_limits)
    wanted = " and ".join(
        f"{limit} by {by}" if by else limit
        for limit, by in zip(cooling.cooling_limits, times, strict=True)
    )
    return [f"Read it: {wanted}.", f"Log each: holdlog cool {show(cooling.code)} READING"]


def _beside(rows: "list[ContainerRow]") -> list[str]:
    """What the cook is told beside the dates, once for all containers."""
    words = {
        "no-limit-known": "No rule here sets a limit: the person in charge decides. Next time say "
        "--house-days N, or say it once for the item: holdlog item add NAME --house-days N",
        "assess": "Treated as TCS until a product assessment says otherwise.",
        "from-memory": "A rule that binds was not seen in its text: check it with the authority.",
    }
    found = dict.fromkeys(word for row in rows for word in row.cautions if word in words)
    lines = [f"Caution: {words[word]}" for word in found]
    if rows and rows[0].cite:
        lines.append(f"By {rows[0].cite}: {rows[0].says}")
    return lines
