"""Creates and upgrades the tables, and tells whether this program and a journal fit.

Alembic's configuration is built in memory, with the absolute path of the migrations, so that
it is the same in a checkout and in a wheel. Alembic is loaded only to create or to upgrade: a
command that merely looks reads one row.
"""

from pathlib import Path
from typing import Literal

from sqlalchemy import Connection, inspect, text
from sqlalchemy.exc import DBAPIError

from holdlog.bundled import folder
from holdlog.core.errors import Fault, HoldlogError, Mistake
from holdlog.journal.engine import Database
from holdlog.journal.faults import is_damage
from holdlog.journal.new_file import refuse_logs
from holdlog.journal.sqlstates import sqlstate

State = Literal["missing", "older", "current", "newer"]

# The newest migration. Four digits that count up: that is how older is told from newer.
HEAD = "0002"
_NOT_THERE = ("42P01", "3F000")  # undefined_table, invalid_schema_name


def state(db: Database, *, head: str = HEAD) -> State:
    """Whether the tables are those of revision ``head``. Makes no file and changes nothing.

    Raises ``Fault("not-a-journal")`` for a database that something else made.
    """
    found = revision(db)
    if found is None:
        return "missing"
    if found == head:
        return "current"
    return "older" if found < head else "newer"


def revision(db: Database) -> str | None:
    """The revision of the tables in ``db``, or None if there are none yet."""
    if db.path is not None and not db.path.exists():
        return None
    with db.reading() as conn:
        try:
            found = conn.execute(text("SELECT version_num FROM alembic_version")).scalars().all()
        except DBAPIError as error:
            # A table that is not there is no fault. One that this role may not look at is.
            lacks = db.path is not None or sqlstate(error.orig) in _NOT_THERE
            if is_damage(error.orig) or not lacks:
                raise
            found = None
    if found is not None and len(found) == 1:
        return str(found[0])
    # Slow, and only here: no version, a busy or broken database, or one that is not ours.
    with db.reading() as conn:
        if empty(conn):
            return None
    raise Fault(
        "not-a-journal",
        f"{db.name} is a database, but not a journal of holdlog.",
        "Give the path of the journal, or of a file that is not there yet.",
    )


def empty(conn: Connection) -> bool:
    """Whether there is not one table, of ours or of somebody else."""
    return not inspect(conn).get_table_names()


def require_current(db: Database, *, head: str = HEAD) -> None:
    """Refuse a journal that this program does not fit, naming the one command that helps.

    Raises ``Mistake`` ``no-journal``, ``older-journal`` or ``newer-journal``.
    """
    match state(db, head=head):
        case "missing" if db.path is not None and db.path.exists():
            raise Mistake(
                "no-journal",
                f"The file {db.name} is empty.",
                "If a journal was there, go back to a backup: holdlog restore FILE. To begin one: "
                "holdlog setup",
            )
        case "missing":
            raise Mistake(
                "no-journal", f"There is no journal at {db.name}.", "To begin one: holdlog setup"
            )
        case "older":
            raise Mistake(
                "older-journal",
                f"The journal {db.name} was made by an earlier holdlog.",
                "To copy it and bring it up to date, run: holdlog db upgrade",
            )
        case "newer":
            raise Mistake(
                "newer-journal",
                f"The journal {db.name} was made by a later holdlog than this one.",
                "Use that one: this one might misread it.",
            )


def create(db: Database) -> None:
    """Make the tables in an empty or missing database. All of them are made, or none.

    Raises ``Mistake("journal-exists")`` if there is a journal already, ``Mistake("log-left")`` if
    SQLite would play another file's log into it, and ``Mistake("bad-encoding")`` for a PostgreSQL
    database that cannot hold every text.
    """
    if state(db) != "missing":
        raise Mistake(
            "journal-exists",
            f"There is a journal at {db.name} already.",
            "Nothing was changed; use it, or give another path.",
        )
    if db.path is not None and not db.path.exists():
        refuse_logs(db.path)
    with db.appending() as conn:
        if db.path is None:
            _require_utf8(db, conn)
        make_tables(conn)


def _require_utf8(db: Database, conn: Connection) -> None:
    encoding = conn.exec_driver_sql("SHOW server_encoding").scalar()
    if encoding != "UTF8":
        raise Mistake(
            "bad-encoding",
            f"The database {db.name} is in {encoding}, which cannot hold every text.",
            "Make one with: createdb --encoding UTF8 --template template0 NAME",
        )


def make_tables(conn: Connection) -> None:
    """Make the tables of this program in an empty database, inside the transaction of ``conn``."""
    _run(conn, folder("migrations"))


def upgrade(db: Database, *, scripts: Path | None = None) -> Path | None:
    """Bring the tables up to date, after a copy of the file; give the path of the copy.

    ``scripts`` is the folder of the migrations (default: ours). None is returned if nothing was
    to be done, and for PostgreSQL, which has its own tools for copies. The copy is made and
    checked while nobody else can write. Raises ``Mistake`` for a missing or a newer journal,
    and ``Fault("upgrade-failed")``; the journal is then as it was.
    """
    # Loaded late: a look at the day's list needs neither copies nor the codec of entries.
    from holdlog.journal import backup  # noqa: PLC0415

    where = scripts or folder("migrations")
    head = script_head(where)
    if state(db, head=head) == "current":
        return None
    if state(db, head=head) != "older":
        require_current(db, head=head)
    copy = _free_name(db.path, head) if db.path is not None else None
    with db.appending() as conn:
        if copy is not None:
            backup.copy_open(db, copy, chains=False)
        try:
            _run(conn, where)
        except HoldlogError:
            raise
        except Exception as error:
            raise Fault(
                "upgrade-failed",
                f"The journal {db.name} could not be brought up to date: {error}",
                "It is as it was" + (f"; a copy is at {copy}." if copy else "."),
            ) from error
    return copy


def script_head(scripts: Path) -> str:
    """The newest revision in a folder of migrations."""
    from alembic.script import ScriptDirectory  # noqa: PLC0415

    return ScriptDirectory(str(scripts)).get_current_head() or ""


def _run(conn: Connection, scripts: Path) -> None:
    # Loaded late: Alembic costs half as much again as SQLAlchemy.
    from alembic import command  # noqa: PLC0415
    from alembic.config import Config  # noqa: PLC0415

    config = Config()
    # The configuration parser reads % as the start of a reference.
    config.set_main_option("script_location", str(scripts.absolute()).replace("%", "%%"))
    config.attributes["connection"] = conn
    command.upgrade(config, "head")


def _free_name(path: Path, head: str) -> Path:
    stem = path.stem if path.suffix == ".db" else path.name
    number = 1
    while (copy := path.with_name(f"{stem}.before-{head}-{number}.db")).exists():
        number += 1
    return copy
