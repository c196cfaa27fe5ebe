"""Moving a journal to another database: from a file to PostgreSQL, or back."""

from dataclasses import dataclass

from holdlog.core.errors import Fault
from holdlog.journal import arrival, flaws, migrate
from holdlog.journal.engine import Connection, Database, open_database
from holdlog.journal.transfer import Tell, quiet
from holdlog.kitchen.wholeness import unproven


@dataclass(frozen=True, slots=True)
class Moved:
    """What arrived: number and hash of the last entry, by site; ``to`` hides any password."""

    to: str
    heads: dict[str, tuple[int, str]]


def move(source: Database, to: str, *, tell: Tell = quiet) -> Moved:
    """Bring the whole journal of ``source`` to the database ``to``, which has to be missing or
    empty. The source stays as it is.

    All or nothing: chains, rulebooks, readings and a replay of what is on hand are proven on
    arrival, before anything is committed. Raises ``Mistake("not-empty")``, and
    ``Fault("written-meanwhile")`` where somebody wrote to the source while it was read.
    """
    migrate.require_current(source)
    target = open_database(to)
    try:
        with source.reading() as conn:
            heads = flaws.heads(conn)

            def proof(there: Database, arrived: Connection) -> str | None:
                fault = unproven(there, arrived)
                if fault is None:
                    _refuse_if_written(source, heads)
                return fault

            _arrive(conn, target, proof, tell)
        return Moved(target.name, heads)
    finally:
        target.close()


def _arrive(conn: Connection, target: Database, proof: flaws.Proof, tell: Tell) -> None:
    try:
        arrival.arrive(conn, target, proof, tell)
    except Fault as fault:
        if fault.code != "outcome-unknown":
            raise
        raise Fault(
            fault.code,
            f"The server went away as the journal was to be kept at {target.name}: it may be "
            "there whole, or not at all.",
            "The old one is as it was. Look at the new one with: holdlog --db TO doctor",
        ) from fault


def _refuse_if_written(source: Database, heads: flaws.Heads) -> None:
    with source.reading() as conn:
        now = flaws.heads(conn)
    if now != heads:
        raise Fault(
            "written-meanwhile",
            f"Somebody wrote to {source.name} while it was moved.",
            "Nothing was moved. End the other programs, and move it again.",
        )
