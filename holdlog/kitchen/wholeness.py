"""Is a journal, as one transaction sees it, whole to the last reading? Asked of every copy before
it bears a name, and of everything that was moved before it is committed.
"""

from holdlog.core.errors import HoldlogError
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal import flaws, on_hand
from holdlog.journal.engine import Connection, Database
from holdlog.kitchen.doctor import on_hand_as_written, readings_as_imported
from holdlog.kitchen.kitchen import kitchen_in


def unproven(db: Database, conn: Connection) -> str | None:
    """What is wrong with the journal beyond what the journal itself can tell, or None.

    For every site: whether what is on hand is what a replay gives, and whether the readings are
    those that were imported.
    """
    for site in journal_entries.site_names(conn):
        try:
            fault = _of_site(db, conn, site)
        except HoldlogError as error:
            fault = error.line()
        if fault:
            return fault
    return None


def flaw(db: Database, conn: Connection, ends: flaws.Heads | None = None) -> str | None:
    """What is wrong with the journal, from its file to what is on hand, or None."""
    return flaws.flaw(conn, ends) or unproven(db, conn)


def _of_site(db: Database, conn: Connection, site: str) -> str | None:
    if not journal_entries.of_kinds(conn, site, ["kitchen"]):
        # Set-up stopped before its first entry, or the journal is not a kitchen's.
        return f"{site} has food and no kitchen" if any(on_hand.everything(conn, site)) else None
    kitchen = kitchen_in(conn, db, _no_clock, _no_dice, site=site)
    found = (on_hand_as_written(kitchen, conn), readings_as_imported(kitchen, conn))
    return next((f"{each.name}: {each.says}" for each in found if not each.ok), None)


def _no_clock() -> Instant:
    raise AssertionError("a replay asks no clock")


def _no_dice(_: str) -> str:
    raise AssertionError("a replay draws no codes")
