"""Handling a container: freeze, thaw, move, reheat, take out, open, split, top up, use up."""

from dataclasses import dataclass, replace
from datetime import date

from holdlog.core import events as ev
from holdlog.core.amounts import Amount, alike, read_amount, share
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant, show_moment
from holdlog.core.temperature import Temperature
from holdlog.journal import on_hand
from holdlog.journal.on_hand import ContainerRow
from holdlog.kitchen.caught_up import caught_up
from holdlog.kitchen.contents import SLACK, taken
from holdlog.kitchen.evidence import paper
from holdlog.kitchen.kitchen import Kitchen, Unit, Writing
from holdlog.kitchen.prep import MOST_CONTAINERS
from holdlog.kitchen.probes import known
from holdlog.kitchen.recall import refuse_before_filled
from holdlog.kitchen.records import Container, LiveRecords, Origin, Reader
from holdlog.rules.holding import Holding

# How food ends well. Returned: to the maker. Each is counted apart from waste.
ENDS: tuple[ev.EndedAs, ...] = ("used", "sold", "staff meal", "donated", "returned")


@dataclass(frozen=True, slots=True)
class Handled:
    """A container after it was handled, and those that were made of it (a split)."""

    row: ContainerRow
    made: tuple[ContainerRow, ...] = ()


def _called(row: ContainerRow) -> str:
    return f"{row.item_name}, {show(row.code)},"


def _when(write: Writing, at: Instant) -> str:
    return show_moment(at, write.kitchen.where, write.recorded_at)


def at_hand(write: Writing, typed: str, at: Instant) -> tuple[ContainerRow, Holding]:
    """The container and where it stood at ``at``; it must have existed then."""
    row = write.find(typed)
    if at < row.made_at:
        raise Mistake(
            "too-early",
            f"{_called(row)} was made {_when(write, row.made_at)}.",
            "Nothing happened to it before that: check --at.",
        )
    container, then = write.look(row.code, at)
    if at < container.there_since:
        raise Mistake(
            "too-early",
            f"{_called(row)} was split off {_when(write, container.there_since)}.",
            "Nothing happened to it before that: check --at.",
        )
    return row, then


def done(write: Writing, row: ContainerRow, *facts: ev.Fact, at: Instant) -> ContainerRow:
    """Append ``facts`` about a container and fold it; its row afterwards. Said late, it may have
    stood where a unit was beyond its limit.
    """
    write.append(*((fact, at, row.code) for fact in facts))
    rows = {each.code: each for each in write.settle(row.code)} | caught_up(write, [row.code], at)
    return rows[row.code]


def in_a_pack(container: Container) -> bool:
    """Whether it is in a reduced-oxygen pack that was not opened since."""
    packs = [each for each in container.own if isinstance(each.fact, ev.Packed | ev.Opened)]
    last = max(packs, key=lambda each: (each.entry.at, each.entry.number), default=None)
    return last is not None and isinstance(last.fact, ev.Packed)


def freeze(kitchen: Kitchen, by: str, typed: str, at: Instant, unit: Unit | None) -> Handled:
    """Into a freezer. Freezing pauses its days; it cures nothing."""
    target = unit or kitchen.first_unit(("freezer",))
    if target is None or not target.freezes:
        raise Mistake(
            "no-freezer",
            f"{target.name} is not a freezer." if target else "This kitchen has no freezer.",
            'Add one with: holdlog unit add "chest freezer" --sort freezer',
        )
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        if then.state == "frozen":
            raise Mistake("is-frozen", f"{_called(row)} is frozen already.", "")
        if then.verdict in ("discard", "refuse"):
            raise Mistake(
                "unfit",
                f"{_called(row)} is to be discarded: {then.reason}",
                "Freezing does not cure it.",
            )
        if then.state == "out":
            raise Mistake(
                "one-way",
                f"{_called(row)} is under time control.",
                "It is served or discarded; it does not go back.",
            )
        if then.state == "hot-held":
            raise Mistake(
                "is-hot",
                f"{_called(row)} is held hot.",
                f"Cool it first, and log it: holdlog cool {show(row.code)}",
            )
        return Handled(done(write, row, ev.Frozen(target.name), at=at))


def thaw(
    kitchen: Kitchen, by: str, typed: str, at: Instant, method: ev.ThawMethod, unit: Unit | None
) -> Handled:
    """Out of the freezer. Its days go on from where they stood."""
    target = unit or kitchen.first_unit(("walk-in", "reach-in"))
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        if then.state != "frozen":
            raise Mistake(
                "not-frozen",
                f"{_called(row)} is not frozen (it is {then.state}).",
                "If it was frozen without a record, record that first with holdlog freeze --at.",
            )
        if target is not None and not target.cold:
            raise Mistake(
                "no-unit",
                f"{target.name} is a {target.sort}: thawed food is kept cold.",
                "Say a cold unit: --unit.",
            )
        fact = ev.Thawed(method, target.name if target else "")
        return Handled(done(write, row, fact, at=at))


def move(kitchen: Kitchen, by: str, typed: str, at: Instant, unit: Unit) -> Handled:
    """To another unit of the same kind of cold."""
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        _refuse_other_cold(row, then, unit)
        return Handled(done(write, row, ev.Moved(unit.name), at=at))


def _refuse_other_cold(row: ContainerRow, then: Holding, unit: Unit) -> None:
    """Into a unit of another kind of cold food does not go unsaid."""
    frozen, hot = then.state == "frozen", then.state == "hot-held"
    instead = ""
    if unit.freezes and not frozen:
        instead = "freeze"
    elif frozen and not unit.freezes:
        instead = "thaw"
    elif unit.sort == "hot box" and not hot:
        instead = "reheat"
    elif hot and unit.cold:
        instead = "cool"
    elif unit.sort == "room" and then.tcs != "not-tcs" and then.state != "out":
        instead = "out"
    if instead:
        raise Mistake(
            "not-a-move",
            f"{unit.name} is a {unit.sort}: {_called(row)} cannot just be put there.",
            f"Use: holdlog {instead} {show(row.code)}",
        )


def reheat(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    reheated: ev.Reheated,
    unit: Unit | None = None,
) -> Handled:
    """Heated again, and perhaps into a hot box. It never restarts a count."""
    if unit is not None and unit.sort != "hot box":
        raise Mistake("no-unit", f"{unit.name} is not a hot box.", "Leave --into out, or name one.")
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        if then.verdict in ("discard", "refuse"):
            raise Mistake(
                "unfit",
                f"{_called(row)} is to be discarded: {then.reason}",
                "Reheating does not cure it.",
            )
        probe = known(write.kitchen, write.conn, reheated.probe)
        facts: list[ev.Fact] = [replace(reheated, probe=probe)]
        if unit is not None:
            facts += [ev.HotHeld(reheated.temperature, probe), ev.Moved(unit.name)]
        return Handled(done(write, row, *facts, at=at))


def take_out(kitchen: Kitchen, by: str, typed: str, at: Instant, out: ev.Out) -> Handled:
    """Out of temperature control, under time as a public health control. It does not go back."""
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        if then.verdict not in ("serve", "last-day"):
            raise Mistake("unfit", f"{_called(row)} is not to be served: {then.reason}", "")
        if then.state == "out":
            raise Mistake("one-way", f"{_called(row)} is out already.", "Its hours run on.")
        room = kitchen.first_unit(("room",))
        probe = known(write.kitchen, write.conn, out.probe)
        facts: list[ev.Fact] = [replace(out, probe=probe)]
        if room is not None:
            facts.append(ev.Moved(room.name))
        return Handled(done(write, row, *facts, at=at))


def open_container(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    maker_use_by: date | None = None,
    maker_date_for: ev.MakerDateFor = "safety",
) -> Handled:
    """A maker's container that was received is opened: its day one. So is a pack of our own."""
    with kitchen.writing(by) as write:
        row, _ = at_hand(write, typed, at)
        if row.made_kind != "received" and not in_a_pack(write.look(row.code, at)[0]):
            raise Mistake(
                "not-received",
                f"{_called(row)} is no unopened container of a maker.",
                "Only what was received is opened.",
            )
        return Handled(done(write, row, ev.Opened(maker_use_by, maker_date_for), at=at))


def split(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    into: int,
    unit: Unit | None = None,
    each: Amount | None = None,
    *,
    keep: bool = False,
) -> Handled:
    """Into ``into`` further containers, which carry its whole history.

    ``keep``: some of it stays in the old container; otherwise that is empty and ended.
    """
    if not 1 <= into <= MOST_CONTAINERS:
        raise Mistake("bad-count", f"{into} containers cannot be.", "Say how many: --into 2.")
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        if unit is not None:
            _refuse_other_cold(row, then, unit)
        codes = write.new_codes(into)
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        container = reader.container(row.code)
        whole = container.amount
        if not keep:
            refuse_before_filled(write, container, at)
        if each is None and whole is not None and not keep:
            each = share(whole, into)
        _refuse_more_than_all(row, whole, each, into)
        fact = ev.Split(codes, unit.name if unit else "", each)
        drafts: list[tuple[ev.Fact, Instant, str]] = [(fact, at, row.code)]
        if not keep:
            drafts.append((ev.Used("split"), at, row.code))
        write.append(*drafts)
        born = {code: Origin(row.batch, row.code) for code in codes}
        rows = {one.code: one for one in write.settle(row.code, born=born)}
        return Handled(rows[row.code], tuple(rows[code] for code in codes))


def top_up(kitchen: Kitchen, by: str, kept: str, poured: str, at: Instant) -> Handled:
    """Two tubs of one thing: ``poured`` goes into ``kept``, the older date wins, and the label
    of ``poured`` is retired.
    """
    with kitchen.writing(by) as write:
        into, into_then = at_hand(write, kept, at)
        gone, gone_then = at_hand(write, poured, at)
        if into.code == gone.code:
            raise Mistake("same-code", "That is the same container twice.", "Scan the other one.")
        if into.item != gone.item:
            raise Mistake(
                "not-one-thing",
                f"{_called(into)} and {_called(gone)} are not the same item.",
                "A dish of several things is a new batch: holdlog combine.",
            )
        for row, then in ((into, into_then), (gone, gone_then)):
            _refuse_unfit_to_pour(row, then)
        if (into_then.state == "hot-held") != (gone_then.state == "hot-held"):
            raise Mistake(
                "hot-and-cold",
                "One of them is held hot, the other is not.",
                "Cool the hot one, or reheat the cold one, before they are poured together.",
            )
        reader = Reader(LiveRecords(write.conn, kitchen.site), kitchen.where)
        if into.code in reader.rests_on(gone.code):
            raise Mistake(
                "made-of-it",
                f"{_called(gone)} was made of {show(into.code)}, or taken out of it.",
                f"Pour it the other way: holdlog top-up {show(gone.code)} {show(into.code)}",
            )
        refuse_before_filled(write, reader.container(gone.code), at)
        write.append(
            (ev.ToppedUp(gone.code), at, into.code),
            (ev.Used("poured together", into=into.code), at, gone.code),
        )
        rows = {row.code: row for row in write.settle(into.code, gone.code)}
        return Handled(rows[into.code])


def _refuse_unfit_to_pour(row: ContainerRow, then: Holding) -> None:
    if then.state == "frozen":
        raise Mistake("is-frozen", f"{_called(row)} is frozen.", "Thaw it first: holdlog thaw.")
    if then.verdict not in ("serve", "last-day"):
        raise Mistake(
            "unfit",
            f"{_called(row)} is not to be poured into anything: {then.reason}",
            "Discard it, or settle it first; nothing was recorded.",
        )


def _refuse_more_than_all(
    row: ContainerRow, whole: Amount | None, each: Amount | None, into: int
) -> None:
    """More cannot come out than was in it. Units of different kinds are not compared."""
    if whole is None or each is None or not alike(whole, each):
        return
    if each.base * into > whole.base * SLACK:
        raise Mistake(
            "too-much",
            f"{_called(row)} holds {whole}, not {into} times {each}.",
            "Check --each.",
        )


def end(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    ended_as: ev.EndedAs,
    amount: Amount | None,
    *,
    part: bool = False,
) -> Handled:
    """It ended well: used, sold, eaten by the staff, donated, returned to the maker.

    ``amount`` None: what was in it, as far as is known. ``part``: the rest stays on hand.
    """
    with kitchen.writing(by, ev.Used) as write:
        at = write.when(at)
        row, then = at_hand(write, typed, at)
        holds = read_amount(row.amount) if row.amount else None
        gone = taken(_called(row).rstrip(","), holds, amount, part=part)
        if not part:
            refuse_before_filled(write, write.look(row.code, at)[0], at)
        if ended_as == "returned":
            _refuse_own_making(write, row)
        elif then.verdict not in ("serve", "last-day"):
            raise Mistake(
                "unfit",
                f"{_called(row)} was not to be served: {then.reason}",
                "If it was binned: holdlog discard. If it was eaten, tell the person in charge.",
            )
        return Handled(done(write, row, ev.Used(ended_as, gone, part=part), at=at))


def _refuse_own_making(write: Writing, row: ContainerRow) -> None:
    """Only a maker's goods go back to the maker, and those may well be unfit to serve."""
    batch = on_hand.batch(write.conn, write.kitchen.site, row.batch)
    if batch is None or batch.kind == "prepared":
        raise Mistake(
            "not-received",
            f"{_called(row)} was made here: there is no maker to return it to.",
            "Use, sell, donate or discard it.",
        )


def reading(
    kitchen: Kitchen,
    by: str,
    typed: str,
    at: Instant,
    temperature: Temperature,
    probe: str = "",
    evidence: str = "",
) -> Handled:
    """A temperature of the food where it is held, and on which thermometer (``probe``).

    ``evidence`` names the paper that a reading of an earlier day rests on; without it such a
    reading proves nothing good.
    """
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        probe = known(write.kitchen, write.conn, probe)
        hot = then.state == "hot-held"
        fact = ev.HotHeld(temperature, probe) if hot else ev.Reading(temperature, probe)
        (entry,) = write.append((fact, at, row.code))
        if said := paper(evidence):
            confirmed = ev.Confirmed(entry.number, said)
            write.append((confirmed, write.recorded_at, row.code))
        return Handled(write.settle_one(row.code))
