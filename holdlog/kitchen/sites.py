"""The sites of a journal: several kitchens that share a database, and never a chain."""

from collections.abc import Iterable

from holdlog.core.errors import Mistake
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Database


def no_kitchen(site: str, known: Iterable[str]) -> Mistake:
    """``site`` (empty: the one that needs no name) is none of those in the journal, which are
    ``known``: most often a slip, and a second kitchen should not be set up by one.
    """
    where = f"for the site {site!r}" if site else "here"
    others = [each for each in known if each != site]
    if not others:
        return Mistake("no-kitchen", f"No kitchen is set up {where}.", "Run: holdlog setup")
    return Mistake(
        "no-kitchen",
        f"No kitchen is set up {where}.",
        f"The journal has: {', '.join(others)}. Say which with --site; for one more kitchen, run: "
        "holdlog setup",
    )


def others(db: Database, site: str) -> list[str]:
    """The other sites of the journal, in order."""
    with db.reading() as conn:
        return [each for each in journal_entries.site_names(conn) if each != site]
