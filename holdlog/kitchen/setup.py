"""Setting up a kitchen: its zone, its scale, its rules, its units, what it makes."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Clock, Instant, zone
from holdlog.core.temperature import Scale
from holdlog.journal import entries as journal_entries
from holdlog.journal import migrate
from holdlog.journal.engine import Connection, Database
from holdlog.journal.entries import Draft
from holdlog.kitchen import books
from holdlog.kitchen.items import starter
from holdlog.kitchen.kitchen import KITCHEN, SITE, Kitchen
from holdlog.kitchen.project import slug
from holdlog.kitchen.redate import Redating, moves
from holdlog.kitchen.shelf import load_book
from holdlog.rules.kinds import COUNTING, DAY_ENDS

SORTS: tuple[ev.UnitSort, ...] = ("walk-in", "reach-in", "freezer", "hot box", "room")
WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True, slots=True)
class Plan:
    """What set-up needs to know. ``units`` are (name, sort) in the order of the walk;
    ``languages`` those of the labels (none: English).
    """

    name: str
    zone: str
    scale: Scale
    rulebooks: tuple[str, ...]
    units: tuple[tuple[str, ev.UnitSort], ...]
    closed: tuple[str, ...] = ()
    susceptible: bool = False
    conventions: ev.Conventions | None = None
    ruling: str = ""
    with_starter_items: bool = True
    languages: tuple[str, ...] = ()


def set_up(db: Database, clock: Clock, by: str, plan: Plan, *, site: str = SITE) -> None:
    """Create the journal and write down the kitchen. All or nothing.

    Raises ``Mistake`` for a zone, rulebook, unit or convention that cannot be, and
    ``Mistake("journal-exists")`` where there is a kitchen already.
    """
    zone(plan.zone)
    check_ruling(plan.rulebooks, plan.conventions, plan.ruling)
    closed = check_weekdays(plan.closed)
    units = _units(plan.units)
    if not by.strip():
        raise Mistake("no-name", "Who sets it up?", "Say --by with your initials.")
    if not plan.name.strip():
        raise Mistake("no-name", "What is the kitchen called?", "Say --name.")
    books.shelf_stack(plan.rulebooks, plan.conventions)
    words = [_words(plan.languages)] if plan.languages else []
    items = starter() if plan.with_starter_items else []
    if migrate.state(db) == "missing":
        migrate.create(db)
    now = clock()
    with db.appending(site) as conn:
        # Asked for the number, the journal lets no other program set up the same site meanwhile.
        if journal_entries.next_number(conn, site, now) > 1:
            raise Mistake(
                "journal-exists",
                f"{db.name} already holds a kitchen.",
                "Choose another place with --db; for one more kitchen here, a name with --site.",
            )
        adopted = _adoption(conn, plan.rulebooks, plan.conventions, plan.ruling, now)
        facts: list[tuple[ev.Fact, str]] = [
            (
                ev.KitchenSetUp(plan.name.strip(), plan.zone, plan.scale, closed, plan.susceptible),
                KITCHEN,
            ),
            (adopted, KITCHEN),
        ]
        facts += [(ev.UnitAdded(sort, order), name) for order, (name, sort) in enumerate(units, 1)]
        facts += [(item, slug(item.name)) for item in items]
        facts += [(said, KITCHEN) for said in words]
        drafts = [Draft(fact, now, subject, by.strip().upper()) for fact, subject in facts]
        journal_entries.append(conn, site, drafts, recorded_at=now)


def _words(languages: tuple[str, ...]) -> ev.LabelWords:
    # Half the commands load this module; only set-up speaks of labels.
    from holdlog.kitchen.printers import checked_words  # noqa: PLC0415

    return checked_words(languages)


def _units(units: Sequence[tuple[str, ev.UnitSort]]) -> list[tuple[str, ev.UnitSort]]:
    if not units:
        raise Mistake(
            "no-unit", "A kitchen has at least one unit.", 'Say --unit "walk-in:walk-in".'
        )
    tidy = [(name.strip(), sort) for name, sort in units]
    for number, (name, _) in enumerate(tidy):
        _check_unit_name(name, [known for known, _ in tidy[:number]])
    return tidy


def _check_unit_name(name: str, known: Iterable[str]) -> None:
    if not name:
        raise Mistake("no-unit", "A unit has a name.", 'Say it: "chest freezer:freezer".')
    if name.lower() in (each.lower() for each in known):
        raise Mistake("unit-exists", f"There is a unit {name!r} already.", "Choose another name.")


def _adoption(
    conn: Connection,
    names: Sequence[str],
    conventions: ev.Conventions | None,
    ruling: str,
    at: Instant,
) -> ev.StackAdopted:
    kept = books.keep_shelf(conn, tuple(names), at)
    adopted = ev.StackAdopted(kept, conventions, ruling)
    books.adopted_stack(conn, adopted)
    return adopted


def adopt(
    kitchen: Kitchen,
    by: str,
    rulebooks: Sequence[str],
    conventions: ev.Conventions | None,
    ruling: str,
) -> Redating:
    """Adopt another stack, and judge every live container by it. What that did to each.

    An earlier date binds at once; a later one only after the container is labelled again.
    """
    check_ruling(rulebooks, conventions, ruling)
    with kitchen.writing(by) as write:
        before = kitchen.current(write.conn).stack(write.conn)
        adopted = _adoption(write.conn, rulebooks, conventions, ruling, write.recorded_at)
        write.append((adopted, write.recorded_at, KITCHEN))
        write.kitchen = kitchen.current(write.conn)
        after = write.kitchen.stack(write.conn)
        found = moves(write.kitchen, write.conn, before, after, write.recorded_at)
        write.settle(*(move.row.code for move in found.moves))
    return found


def would_adopt(
    kitchen: Kitchen,
    rulebooks: Sequence[str],
    conventions: ev.Conventions | None,
    ruling: str,
) -> Redating:
    """What ``adopt`` would do to everything on hand. Nothing is written."""
    check_ruling(rulebooks, conventions, ruling)
    after = books.shelf_stack(rulebooks, conventions)
    with kitchen.db.reading() as conn:
        before = kitchen.current(conn).stack(conn)
        return moves(kitchen, conn, before, after, kitchen.moment(conn))


def check_ruling(rulebooks: Sequence[str], conventions: ev.Conventions | None, ruling: str) -> None:
    """A convention looser than the books' own needs the ruling of the authority on record."""
    if conventions is None or ruling.strip():
        return
    own = books.shelf_stack(rulebooks, None).conventions
    looser = (
        (conventions.freeze_day, own.freeze_day) == ("does-not-count", "counts")
        or (conventions.thaw_day, own.thaw_day) == ("does-not-count", "counts")
        or (conventions.day_end, own.day_end) == ("exact-hours", "calendar")
    )
    if looser:
        raise Mistake(
            "no-ruling",
            "Counting days less strictly is for your authority to allow.",
            'Record who settled it and when: --ruling "A. Name, county health, 3 May 2026".',
        )


def conventions_for(
    rulebooks: Sequence[str], freeze_day: str, thaw_day: str, day_end: str
) -> ev.Conventions | None:
    """The conventions meant: what is not said (empty) is as the books settle it; None: all of it.

    Raises ``Mistake("bad-convention")``.
    """
    for option, value, known in (
        ("--freeze-day", freeze_day, COUNTING),
        ("--thaw-day", thaw_day, COUNTING),
        ("--day-end", day_end, DAY_ENDS),
    ):
        if value and value not in known:
            raise Mistake("bad-convention", f"{option} {value}?", f"Say {' or '.join(known)}.")
    said = {"freeze_day": freeze_day, "thaw_day": thaw_day, "day_end": day_end}
    given = {name: value for name, value in said.items() if value}
    if not given:
        return None
    return replace(books.shelf_stack(rulebooks, None).conventions, **given)  # type: ignore[arg-type]


def settled_before(kitchen: Kitchen, rulebooks: Sequence[str]) -> tuple[ev.Conventions | None, str]:
    """The conventions and the ruling in force, where the same rulebook is adopted once more: a
    ruling of its authority does not lapse because a house file is added.
    """
    now = next((book.id for book in kitchen.adopted.books if book.role == "adopted"), "")
    same = bool(rulebooks) and load_book(rulebooks[0]).id == now
    return (kitchen.adopted.conventions, kitchen.adopted.ruling) if same else (None, "")


def check_weekdays(days: Sequence[str]) -> tuple[str, ...]:
    """Weekdays by their first three letters. Raises ``Mistake("no-weekday")``."""
    short = tuple(day.strip().lower()[:3] for day in days)
    wrong = [day for day, first in zip(days, short, strict=True) if first not in WEEKDAYS]
    if wrong:
        raise Mistake("no-weekday", f"{wrong[0]!r} is not a day of the week.", "Write Mon, Tue …")
    return short


def add_unit(kitchen: Kitchen, by: str, name: str, sort: ev.UnitSort) -> None:
    """Add a unit at the end of the walk. Raises ``Mistake("unit-exists")``."""
    with kitchen.writing(by) as write:
        found = journal_entries.of_kinds(write.conn, kitchen.site, ["unit"])
        _check_unit_name(name.strip(), [entry.subject for entry in found])
        order = len(found) + 1
        write.append((ev.UnitAdded(sort, order), write.recorded_at, name.strip()))
