"""Reads a journal from end to end and says what is wrong with it: for copies and arrivals.

What the journal alone can tell. Whether what is on hand equals a replay needs the rules, and is
asked by the kitchen.
"""

import hashlib
from collections.abc import Callable, Mapping

from sqlalchemy import select

from holdlog.core.chain import first_fault
from holdlog.journal.engine import Connection, Database
from holdlog.journal.entries import head, site_names, stream
from holdlog.journal.rows import streamed
from holdlog.journal.soundness import unsound
from holdlog.journal.tables import book

# Number and hash of the last entry, by site.
Heads = Mapping[str, tuple[int, str]]
# What a caller knows beyond the journal: asked of a copy before it gets its name, in the
# transaction that reads (or made) it. It gives what is wrong, or None.
Proof = Callable[[Database, Connection], str | None]


def heads(conn: Connection) -> dict[str, tuple[int, str]]:
    """Number and hash of the last entry of every site."""
    return {site: head(conn, site)[:2] for site in site_names(conn)}


def flaw(conn: Connection, wanted: Heads | None = None) -> str | None:
    """The first thing that is wrong, in a few words, or None.

    Looked at are the file itself, the chain of every site from its first entry, its end (which
    has to be as ``wanted``, if that is said), and the digest of every rulebook.
    """
    return unsound(conn) or _chains(conn) or _ends(conn, wanted or {}) or _books(conn)


def _chains(conn: Connection) -> str | None:
    for site in site_names(conn):
        fault = first_fault(stream(conn, site))
        if fault:
            return f"{site}: {fault}"
    return None


def _ends(conn: Connection, wanted: Heads) -> str | None:
    found = heads(conn)
    for site, (number, digest) in wanted.items():
        if found.get(site) == (number, digest):
            continue
        there = found.get(site, (0, ""))[0]
        if there < number:
            return (
                f"the last entries of {site} are missing: {number} were written, {there} are here"
            )
        return f"the last entry of {site} is another one"
    return None


def _books(conn: Connection) -> str | None:
    for digest, name, content in streamed(conn, select(book.c.digest, book.c.id, book.c.content)):
        if hashlib.sha256(content).hexdigest() != digest:
            return f"the rulebook {name} was changed after it was kept"
    return None
