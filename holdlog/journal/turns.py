"""Whose turn it is to write, on PostgreSQL. On SQLite a writer has the whole file from its BEGIN.

A site's turn is the lock on its row of ``site``: it is taken before anything is read that the
entries are decided by, and it lasts until the transaction ends. So two cooks who bin the same
tub come one after the other, and the second sees what the first did. Every statement sees what
is committed by then (READ COMMITTED); of this site that is only what this transaction does.

Everybody takes a site's turn first and the rulebooks' second, so that none of us waits for a
second thing while another of us waits for the first: among ourselves nobody deadlocks.
"""

from sqlalchemy import Connection, bindparam, select

from holdlog.core.moments import Instant
from holdlog.journal.rows import insert_over, tuples
from holdlog.journal.tables import site as sites

_TAKE = select(sites.c.site).where(sites.c.site == bindparam("site")).with_for_update()
_HELD = "holdlog_turn"


def take(conn: Connection, site: str) -> None:
    """Wait for the turn of ``site``. Who opens a new one waits until nobody writes at all."""
    if not tuples(conn, _TAKE, site=site):
        take_all(conn)
        if not tuples(conn, _TAKE, site=site):
            return
    conn.info[_HELD] = site


def take_or_open(conn: Connection, site: str, at: Instant) -> None:
    """The same, for a site that may be new: its row is made, and then taken.

    Two that open the same site at once wait for each other at its key.
    """
    if conn.dialect.name == "sqlite" or conn.info.get(_HELD) == site:
        return
    open_site(conn, site, at)
    take(conn, site)


def open_site(conn: Connection, site: str, at: Instant) -> None:
    """Write down that ``site`` has a journal here from now on, unless it has one."""
    statement = insert_over(conn.dialect.name, sites).on_conflict_do_nothing()
    conn.execute(statement, {"site": site, "opened_at": at})


def take_all(conn: Connection) -> None:
    """Wait until nobody writes, of any site, and let nobody begin: for changes of the tables."""
    # Before there is a table there is nothing to lock but a number: its own hash of our name.
    conn.exec_driver_sql("SELECT pg_advisory_xact_lock(hashtext('holdlog'))")
    if conn.exec_driver_sql("SELECT to_regclass('site')").scalar() is not None:
        # It stands in the way of FOR UPDATE, and of nobody who only reads.
        conn.exec_driver_sql("LOCK TABLE site IN EXCLUSIVE MODE")


def take_books(conn: Connection) -> None:
    """Wait for the turn to keep rulebooks, which all sites share."""
    if conn.dialect.name != "sqlite":
        conn.exec_driver_sql("SELECT pg_advisory_xact_lock('book'::regclass::oid::bigint)")


def let_go(conn: Connection) -> None:
    """The transaction has ended, and the turn with it."""
    # Of a connection that is lost nothing is asked: SQLAlchemy would make a new one for it, and
    # that this fails would hide what went wrong before (an outcome that nobody knows).
    if not conn.invalidated:
        conn.info.pop(_HELD, None)
