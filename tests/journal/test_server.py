"""PostgreSQL at its worst: not there, not letting anybody in, gone in the middle, in the way."""

import threading
import time
from collections.abc import Iterator
from contextlib import closing
from urllib.parse import quote

import psycopg
import pytest

from holdlog.core.chain import first_fault
from holdlog.core.errors import Fault, HoldlogError, Mistake
from holdlog.journal import migrate
from holdlog.journal.checks import journal_mode
from holdlog.journal.engine import Database, open_database
from holdlog.journal.entries import append
from tests.journal.made import NOW, SITE, all_of, draft, write
from tests.postgres import Server, in_memory, name_in, running

pytestmark = pytest.mark.postgres

HBA = """\
local all cook scram-sha-256
local all all trust
"""


@pytest.fixture(scope="module")
def mortal() -> Iterator[Server]:
    """A server that may be killed, with a role that needs a password."""
    with running(in_memory()) as server:
        server.say("CREATE ROLE cook LOGIN PASSWORD 'right: secret'")
        server.say("CREATE ROLE lodger LOGIN")
        server.say("CREATE ROLE ghost NOLOGIN")
        (server.data / "pg_hba.conf").write_text(HBA)
        server.say("SELECT pg_reload_conf()")
        yield server


@pytest.fixture
def there(mortal: Server) -> Iterator[Database]:
    """An empty journal on it."""
    db = open_database(mortal.fresh(), wait_ms=2000)
    migrate.create(db)
    yield db
    db.close()


def told(db: Database, code: str) -> str:
    """The one line of the fault ``code`` when somebody looks into ``db``."""
    with pytest.raises(Fault) as caught:
        all_of(db)
    line = caught.value.line()
    assert caught.value.code == code, line
    assert "secret" not in line
    assert "\n" not in line
    db.close()
    return line


# --- it cannot be reached ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("user", "name", "code", "says"),
    [
        ("cook:wrong%20secret", "postgres", "no-login", "password"),
        ("cook", "postgres", "no-login", "password"),
        ("nobody", "postgres", "no-login", "nobody"),
        ("ghost", "postgres", "no-login", "ghost"),
        ("postgres", "nowhere", "no-database", "nowhere"),
    ],
)
def test_who_is_not_let_in_is_told_why_without_the_password(
    mortal: Server, user: str, name: str, code: str, says: str
) -> None:
    url = mortal.url(name, role=user)
    assert says in told(open_database(url), code)
    with pytest.raises(HoldlogError) as caught:
        migrate.require_current(open_database(url))
    assert caught.value.code == code


def test_the_right_password_is_never_shown_either(mortal: Server) -> None:
    host = quote(str(mortal.folder), safe="")
    for url in (
        mortal.url("postgres", role="cook:right%3A%20secret"),
        f"postgresql://cook@/postgres?host={host}&password=right%3A%20secret",
    ):
        db = open_database(url)
        assert migrate.state(db) == "missing"
        with pytest.raises(Mistake) as caught:
            migrate.require_current(db)
        assert caught.value.code == "no-journal"
        assert db.name == "postgresql://cook@/postgres"
        db.close()


@pytest.mark.parametrize(
    "address", ["127.0.0.1:1", "/nowhere?host=%2Fnowhere", "no-such-host.invalid"]
)
def test_a_server_that_is_not_there_is_told_of(address: str) -> None:
    line = told(open_database(f"postgresql://cook:secret@{address}"), "no-server")
    assert "cannot be reached" in line


@pytest.mark.parametrize("url", ["postgresql://cook:secret", "postgresql://a:b:secret@c:d/e"])
def test_an_address_that_cannot_be_read_is_not_repeated(url: str) -> None:
    with pytest.raises(Mistake) as caught:
        open_database(url)
    assert caught.value.code == "bad-database-url"
    assert "secret" not in caught.value.line()


# --- what it says ------------------------------------------------------------------------------


# PostgreSQL manual, appendix A ("PostgreSQL Error Codes").
@pytest.mark.parametrize(
    ("sqlstate", "code"),
    [
        ("53100", "disk-full"),
        ("53300", "server-busy"),
        ("53200", "server-busy"),
        ("55P03", "locked"),
        ("40001", "locked"),
        ("40P01", "locked"),
        ("57014", "stopped"),
        ("25006", "read-only"),
        ("42501", "read-only"),
        ("23505", "refused"),
        ("P0001", "refused"),
        ("22P05", "refused"),
        ("54000", "refused"),
        ("08006", "no-server"),
        ("57P01", "no-server"),
        ("57P03", "no-server"),
        ("28P01", "no-login"),
        ("3D000", "no-database"),
        ("58030", "disk-fault"),
        ("XX001", "damaged"),
        ("XX000", "database"),
    ],
)
def test_each_error_of_the_server_is_one_line_and_nothing_is_written(
    served: Database, sqlstate: str, code: str
) -> None:
    def fails() -> None:
        with served.appending(SITE) as conn:
            append(conn, SITE, [draft()], recorded_at=NOW)
            conn.exec_driver_sql(
                f"DO $$ BEGIN RAISE 'as it was {{told}}' USING ERRCODE = '{sqlstate}'; END $$"
            )

    with pytest.raises(Fault) as caught:
        fails()
    assert caught.value.code == code
    assert "\n" not in caught.value.line()
    assert "SQL" not in caught.value.line()
    assert all_of(served) == []
    assert len(write(served)) == 1


def test_a_role_or_a_database_that_may_only_read_can_read(mortal: Server, there: Database) -> None:
    write(there)
    name = name_in(str(there.engine.url.render_as_string()))
    stranger = open_database(mortal.url(name, role="lodger"))
    with pytest.raises(Fault, match="does not let this role") as caught:
        migrate.state(stranger)
    assert "not a journal" not in caught.value.line()
    stranger.close()
    mortal.say("GRANT SELECT ON ALL TABLES IN SCHEMA public TO lodger", name=name)
    lodger = open_database(mortal.url(name, role="lodger"))
    assert migrate.state(lodger) == "current"
    assert len(all_of(lodger)) == 1
    with pytest.raises(Fault) as caught:
        write(lodger)
    assert caught.value.code == "read-only"
    lodger.close()
    mortal.say(f'ALTER DATABASE "{name}" SET default_transaction_read_only = on')
    there.close()
    assert len(all_of(there)) == 1
    with pytest.raises(Fault) as caught:
        write(there)
    assert caught.value.code == "read-only"


def test_a_database_that_cannot_hold_every_text_is_refused_at_once(mortal: Server) -> None:
    mortal.say(
        "CREATE DATABASE western ENCODING 'LATIN1' LOCALE_PROVIDER libc LOCALE 'C'"
        " TEMPLATE template0"
    )
    db = open_database(mortal.url("western"))
    with pytest.raises(Mistake) as caught:
        migrate.create(db)
    assert caught.value.code == "bad-encoding"
    assert migrate.state(db) == "missing"
    db.close()


def test_the_doctor_tells_of_a_server_that_may_lose_what_it_acknowledged(
    mortal: Server, there: Database
) -> None:
    mortal.say("ALTER SYSTEM SET synchronous_commit = off")
    mortal.say("SELECT pg_reload_conf()")
    found = journal_mode(there)
    # That one is the session's to say, and ours says on.
    assert found.ok, found.says
    mortal.say("ALTER SYSTEM SET full_page_writes = off")
    mortal.say("SELECT pg_reload_conf()")
    for _ in range(100):
        if not (found := journal_mode(there)).ok:
            break
        time.sleep(0.02)
    assert "full_page_writes" in found.says.partition("turn on ")[2]
    mortal.say("ALTER SYSTEM RESET ALL")
    mortal.say("SELECT pg_reload_conf()")


# --- it goes away ------------------------------------------------------------------------------


def test_a_server_killed_in_the_middle_leaves_nothing_and_the_next_command_works(
    mortal: Server, there: Database
) -> None:
    before = write(there)

    def interrupted() -> None:
        with there.appending(SITE) as conn:
            append(conn, SITE, [draft(by="JO")], recorded_at=NOW)
            mortal.kill()
            append(conn, SITE, [draft(by="JO")], recorded_at=NOW)

    with pytest.raises(Fault) as caught:
        interrupted()
    assert caught.value.code == "no-server"
    with pytest.raises(Fault) as caught:
        write(there)
    assert caught.value.code == "no-server"
    mortal.start()
    assert all_of(there) == before
    assert write(there)[0].number == 2
    assert first_fault(all_of(there)) is None


def test_a_restart_between_two_commands_is_not_noticed(mortal: Server, there: Database) -> None:
    write(there)
    mortal.stop()
    mortal.start()
    assert len(all_of(there)) == 1
    mortal.stop("immediate")
    mortal.start()
    assert write(there)[0].number == 2


@pytest.mark.parametrize("killed", [False, True], ids=["connection", "server"])
def test_a_connection_cut_during_the_commit_is_not_called_a_failure(
    mortal: Server, there: Database, *, killed: bool
) -> None:
    """It may have been kept: who is told "nothing was written" enters it twice. Of a server that
    is down as well, no later attempt to reach it hides that.
    """
    name = name_in(str(there.engine.url.render_as_string()))
    mortal.say(
        "CREATE FUNCTION slow() RETURNS trigger LANGUAGE plpgsql AS"
        " 'BEGIN PERFORM pg_sleep(60); RETURN NULL; END'",
        name=name,
    )
    mortal.say(
        "CREATE CONSTRAINT TRIGGER slow AFTER INSERT ON entry DEFERRABLE INITIALLY DEFERRED"
        " FOR EACH ROW EXECUTE FUNCTION slow()",
        name=name,
    )

    def cut() -> None:
        count = "pid" if killed else "pg_terminate_backend(pid)"
        at_commit = (
            f"SELECT count({count}) FROM pg_stat_activity"
            f" WHERE datname = '{name}' AND query = 'COMMIT' AND wait_event = 'PgSleep'"
        )
        while mortal.say(at_commit) == [(0,)]:
            time.sleep(0.02)
        if killed:
            mortal.kill()

    cutter = threading.Thread(target=cut)
    cutter.start()
    with pytest.raises(Fault) as caught:
        write(there)
    cutter.join()
    if killed:
        mortal.start()
    assert caught.value.code == "outcome-unknown"
    assert "Nothing was written" not in caught.value.line()
    mortal.say("DROP TRIGGER slow ON entry", name=name)
    assert [entry.number for entry in write(there)] == [len(all_of(there))]


# --- others are in the way ---------------------------------------------------------------------


def test_a_reader_sees_one_picture_while_others_write(served: Database) -> None:
    write(served)
    with served.reading() as conn:
        before = conn.exec_driver_sql("SELECT count(*) FROM entry").scalar()
        write(served)
        assert conn.exec_driver_sql("SELECT count(*) FROM entry").scalar() == before == 1
    assert len(all_of(served)) == 2


def test_who_only_reads_cannot_write(served: Database) -> None:
    write(served)
    with pytest.raises(Fault) as caught, served.reading() as conn:
        conn.exec_driver_sql("DELETE FROM container")
    assert caught.value.code == "read-only"


def test_a_site_that_somebody_holds_gives_a_clear_line_and_others_go_on(
    served: Database, url: str
) -> None:
    write(served)
    write(served, site="boat-shed")
    with closing(psycopg.connect(url)) as holder:
        holder.execute("SELECT * FROM site WHERE site = %s FOR UPDATE", [SITE])
        with pytest.raises(Fault) as caught:
            write(served)
        assert caught.value.code == "locked"
        assert len(write(served, site="boat-shed")) == 1
    assert len(write(served)) == 1


def waits(url: str) -> None:
    """Return once somebody waits for a lock in the database."""
    with closing(psycopg.connect(url, autocommit=True)) as conn:
        while conn.execute("SELECT FROM pg_locks WHERE NOT granted").fetchone() is None:
            time.sleep(0.005)


def collide(url: str, first: str, second: str) -> threading.Thread:
    """Somebody at the server's prompt who takes one lock, and another once we wait for the first;
    and who is never the one that the server picks.
    """
    conn = psycopg.connect(url)
    conn.execute("SET deadlock_timeout = '20s'")
    conn.execute(first.encode())

    def go_on() -> None:
        waits(url)
        with conn:
            conn.execute(second.encode())

    thread = threading.Thread(target=go_on)
    thread.start()
    return thread


@pytest.fixture
def patient(postgres: Server, url: str) -> Iterator[Database]:
    """It looks for a deadlock after a third of a second."""
    postgres.say(f"ALTER DATABASE \"{name_in(url)}\" SET deadlock_timeout = '300ms'")
    db = open_database(url, wait_ms=5000)
    yield db
    db.close()


def test_a_turn_lost_to_a_deadlock_is_waited_for_again(patient: Database, url: str) -> None:
    """A real one: we wait for the site's row, whose owner waits for the table we have touched."""
    write(patient)
    stranger = collide(
        url,
        "SELECT * FROM site FOR UPDATE",
        "LOCK TABLE site IN ACCESS EXCLUSIVE MODE",
    )
    assert write(patient)[0].number == 2
    stranger.join()
    assert first_fault(all_of(patient)) is None


def test_a_deadlock_in_the_middle_is_one_line_with_nothing_written(
    patient: Database, url: str
) -> None:
    write(patient)
    stranger = collide(
        url,
        "LOCK TABLE container IN ACCESS EXCLUSIVE MODE",
        "SELECT * FROM site FOR UPDATE",
    )

    def meets() -> None:
        with patient.appending(SITE) as conn:
            append(conn, SITE, [draft()], recorded_at=NOW)
            conn.exec_driver_sql("SELECT * FROM container")

    with pytest.raises(Fault) as caught:
        meets()
    stranger.join()
    assert caught.value.code == "locked"
    # It has kept one before: "nothing was written" alone would be read as of that one too.
    assert "Something was recorded before this" in caught.value.hint
    assert len(all_of(patient)) == 1
    assert write(patient)[0].number == 2


def test_two_that_make_the_same_journal_at_once_make_one(postgres: Server) -> None:
    url = postgres.fresh()
    makers = [open_database(url) for _ in range(3)]
    codes: list[str] = []

    def make(db: Database) -> None:
        try:
            migrate.create(db)
        except Mistake as mistake:
            codes.append(mistake.code)

    threads = [threading.Thread(target=make, args=(db,)) for db in makers]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert set(codes) <= {"journal-exists"}
    assert [migrate.state(db) for db in makers] == ["current"] * 3
    for db in makers:
        write(db)
        db.close()
    postgres.drop(url)


def test_tables_are_not_changed_while_somebody_writes(served: Database, url: str) -> None:
    """What ``db upgrade`` relies on: it has the whole database to itself, and readers go on."""
    write(served)
    other = open_database(url, wait_ms=50)
    with served.appending() as conn:
        append(conn, SITE, [draft()], recorded_at=NOW)
        for site in (SITE, "boat-shed"):
            with pytest.raises(Fault) as caught:
                write(other, site=site)
            assert caught.value.code == "locked"
        assert len(all_of(other)) == 1
    other.close()
