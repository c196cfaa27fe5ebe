"""A link to a server is cut in the middle: nobody is told "nothing was written" of what is kept.

The torture ``postgres_cuts`` asks the same of whole commands, at every request.
"""

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from holdlog.core.errors import Fault
from holdlog.journal import migrate
from holdlog.journal.engine import Database, open_database
from tests.journal.made import all_of, write
from tests.postgres import Server
from tests.torture.cutter import NEVER, Cut, Link
from tests.torture.postgres_cuts import PANICS

pytestmark = pytest.mark.postgres


@pytest.fixture
def url(postgres: Server) -> Iterator[str]:
    made = postgres.fresh()
    db = open_database(made)
    migrate.create(db)
    db.close()
    yield made
    postgres.drop(made)


@contextmanager
def cut(postgres: Server, url: str, where: Cut) -> Iterator[Database]:
    with Link(postgres, where) as link:
        db = open_database(link.url(url))
        yield db
        db.close()


def kept(url: str) -> int:
    db = open_database(url)
    try:
        return len(all_of(db))
    finally:
        db.close()


# The first commit is that by which SQLAlchemy gets to know the server.
@pytest.mark.parametrize("answer", [b"", PANICS], ids=["no word", "panic"])
@pytest.mark.parametrize(("how", "entries"), [("unheard", 0), ("untold", 1)])
def test_nobody_knows_what_became_of_a_commit_whose_answer_did_not_come(
    postgres: Server, url: str, how: str, entries: int, answer: bytes
) -> None:
    where = Cut(2, "untold" if how == "untold" else "unheard", answer=answer, only="COMMIT")
    with cut(postgres, url, where) as db, pytest.raises(Fault) as caught:
        write(db)
    assert caught.value.code == "outcome-unknown"
    assert kept(url) == entries


@pytest.mark.parametrize("down", [False, True], ids=["link", "server"])
@pytest.mark.parametrize("begin", ["READ COMMITTED", "REPEATABLE READ READ ONLY"])
def test_what_fails_after_an_entry_does_not_say_that_nothing_was_written(
    postgres: Server, url: str, begin: str, *, down: bool
) -> None:
    """The label of a batch that is recorded, or the look at it: whoever reads that nothing was
    written makes the batch once more.
    """
    writes = begin == "READ COMMITTED"
    where = Cut(2 if writes else 1, "unheard", down, only=f"BEGIN ISOLATION LEVEL {begin}")
    with cut(postgres, url, where) as db:
        write(db)
        with pytest.raises(Fault) as caught:
            write(db) if writes else all_of(db)
    assert caught.value.code == "no-server"
    assert "othing was written" not in caught.value.line()
    assert "Something was recorded before this: look with holdlog on-hand" in caught.value.hint
    assert kept(url) == 1


def test_before_any_entry_it_says_that_nothing_was_written(postgres: Server, url: str) -> None:
    where = Cut(1, "untold", only="BEGIN ISOLATION LEVEL READ COMMITTED")
    with cut(postgres, url, where) as db, pytest.raises(Fault) as caught:
        write(db)
    assert "Nothing was written" in caught.value.hint
    assert kept(url) == 0


def test_a_link_that_is_lost_at_the_first_look_is_not_a_foreign_database(
    postgres: Server, url: str
) -> None:
    where = Cut(1, "unheard", only="SELECT version_num FROM alembic_version")
    with cut(postgres, url, where) as db, pytest.raises(Fault) as caught:
        migrate.require_current(db)
    assert caught.value.code == "no-server"


def test_a_link_that_is_not_cut_changes_nothing(postgres: Server, url: str) -> None:
    with cut(postgres, url, NEVER) as db:
        write(db)
        migrate.require_current(db)
    assert kept(url) == 1
