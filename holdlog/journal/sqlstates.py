"""Turns the errors of a PostgreSQL server into sentences a cook can act on.

The server says what went wrong by a code of five characters (PostgreSQL manual, appendix A,
"PostgreSQL Error Codes"), the same in every release and language. Only a connection that was
never made has none: libpq keeps that code to itself, so there the server's English words are
looked at, and what is not recognised is shown as the server said it. No message of the server or
the driver holds a password.
"""

from holdlog.core.errors import Fault
from holdlog.journal.faults import BACKUP, DAMAGED, FULL, LOCKED, Told, refused, told

# After these the same transaction may succeed if it is begun again: it met another one.
COLLISIONS = ("40001", "40P01")


def sqlstate(error: BaseException | None) -> str:
    """The code of an error of psycopg, or nothing."""
    return str(getattr(error, "sqlstate", None) or "")


def is_refused(error: BaseException | None) -> bool:
    """Whether the server itself says that it did not do what it was asked last.

    An ERROR ends the transaction, and nothing of it is kept. A FATAL or a PANIC ends the connection
    or the whole server (PostgreSQL manual, "Message Severity Levels"): it can come when the commit
    is on the disk already. So can an end without a word.
    """
    return getattr(getattr(error, "diag", None), "severity_nonlocalized", None) == "ERROR"


def explain(error: BaseException | None, name: str) -> Fault:
    """The fault for ``error``, raised by psycopg on the database called ``name``."""
    said = _said(error)
    code = sqlstate(error)
    if code:
        for prefix, fault in _FAULTS.items():
            if code.startswith(prefix):
                return told(fault, name, said)
    elif getattr(error, "pgconn", None) is not None or "failed to resolve host" in said:
        return told(_not_connected(error, said), name, said)
    elif type(error).__name__ == "OperationalError":
        return told(_GONE, name, said)
    return Fault(
        "database",
        f"The database {name} could not do what was asked: {said}",
        "Run: holdlog doctor",
    )


def unknown_outcome(name: str) -> Fault:
    """The fault where the server was asked to commit and did not say whether it did."""
    return Fault(
        "outcome-unknown",
        f"The server of the journal {name} went away while it was writing the entry.",
        "It may or may not be kept: look with holdlog on-hand before you enter it again.",
    )


_GONE: Told = (
    "no-server",
    "The server of the journal {name} went away.",
    "Nothing was written; try again when it is back.",
)
_NO_SERVER: Told = (
    "no-server",
    "The server of the journal {name} cannot be reached: {error}.",
    "See that it runs, and that the address is right.",
)
_NO_LOGIN: Told = (
    "no-login",
    "The server of the journal {name} let nobody in: {error}.",
    "See the name and the password (PGPASSWORD, or a .pgpass file), and that this role may log in.",
)
_NO_DATABASE: Told = (
    "no-database",
    "The server is there, but not the database of the journal {name}.",
    "Make it with createdb, or give another name; then: holdlog setup",
)
_READ_ONLY: Told = (
    "read-only",
    "The journal {name} cannot be written by this role: {error}.",
    "Nothing was written; give the role the right to, or use the server that takes writes.",
)
_NO_RIGHT: Told = (
    "read-only",
    "The journal {name} does not let this role do that: {error}.",
    "Nothing was written; give the role the right to, or let the role do it that owns the tables.",
)
_BUSY: Told = (
    "server-busy",
    "The server of the journal {name} has no room for one more: {error}.",
    "Nothing was written; try again in a moment.",
)
_STOPPED: Told = (
    "stopped",
    "The server of the journal {name} stopped what was asked: {error}.",
    "Nothing was written; try again.",
)
# The first that fits is taken, so the special cases of a class come before it.
_FAULTS: dict[str, Told] = {
    "55P03": LOCKED,  # lock_not_available
    "40": LOCKED,  # serialization_failure, deadlock_detected
    "53100": FULL,  # disk_full
    "53": _BUSY,  # too_many_connections, out_of_memory
    "57014": _STOPPED,  # query_canceled
    "57P04": _NO_DATABASE,  # database_dropped
    "57": _GONE,  # admin_shutdown, crash_shutdown, cannot_connect_now
    "08": _GONE,
    "25P03": _GONE,  # idle_in_transaction_session_timeout
    "25006": _READ_ONLY,  # read_only_sql_transaction
    "42501": _NO_RIGHT,  # insufficient_privilege
    "28": _NO_LOGIN,
    "3D000": _NO_DATABASE,  # invalid_catalog_name
    "58030": (
        "disk-fault",
        "The server of the journal {name} could not read or write its disk: {error}.",
        "Nothing was half-written; see whether its disk is full or failing.",
    ),
    "58": ("damaged", "Files of the journal {name} are missing on the server: {error}.", BACKUP),
    "XX001": DAMAGED,  # data_corrupted
    "XX002": DAMAGED,  # index_corrupted
    "22": refused("a text or a number"),
    "54": refused("something too long"),  # program_limit_exceeded
    "23": refused("an entry"),
    "P0001": refused("an entry"),  # raised by a trigger
}


def _not_connected(error: BaseException | None, said: str) -> Told:
    pgconn = getattr(error, "pgconn", None)
    if "database" in said and said.endswith("does not exist"):
        return _NO_DATABASE
    if "too many clients" in said or "connection slots" in said:
        return _BUSY
    # Whether a password was asked for or sent is known without a word of English.
    if getattr(pgconn, "needs_password", False) or getattr(pgconn, "used_password", False):
        return _NO_LOGIN
    if "role" in said or "pg_hba.conf" in said or "authentication failed" in said:
        return _NO_LOGIN
    return _NO_SERVER


def _said(error: BaseException | None) -> str:
    """The server's sentence, without the address in front of it, which the fault names itself."""
    primary = getattr(getattr(error, "diag", None), "message_primary", None)
    first = str(primary or next(iter(str(error).strip().splitlines()), ""))
    return first.rpartition("FATAL:")[2].rpartition(" failed: ")[2].strip().rstrip(".")
