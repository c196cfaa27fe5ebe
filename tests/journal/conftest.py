"""An empty journal for each test, copied from one that is made once; on both databases.

A test that takes ``db`` (the journal, opened) or ``where`` (its address) is run on SQLite and once
more on PostgreSQL. One that takes ``path`` as well is about the file, and ``filed`` is the journal
in that file: both are of SQLite alone. ``served`` and ``url`` are of PostgreSQL alone.
"""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from holdlog.journal import migrate
from holdlog.journal.engine import Database, open_database
from tests.postgres import Server, name_in

SQLITE, SERVER = "sqlite", "postgresql"
BOTH = [SQLITE, pytest.param(SERVER, marks=pytest.mark.postgres)]


@pytest.fixture(scope="session")
def made_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("journal") / "empty.db"
    db = open_database(path)
    migrate.create(db)
    db.close()
    return path


@pytest.fixture
def path(made_once: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(made_once, tmp_path / "journal.db"))


@pytest.fixture
def filed(path: Path) -> Iterator[Database]:
    database = open_database(path, must_exist=True, wait_ms=200)
    yield database
    database.close()


@pytest.fixture(scope="session")
def served_once(postgres: Server) -> str:
    url = postgres.fresh()
    db = open_database(url)
    migrate.create(db)
    db.close()
    return name_in(url)


@pytest.fixture
def url(postgres: Server, served_once: str) -> Iterator[str]:
    """Where an empty journal is on PostgreSQL."""
    made = postgres.fresh(served_once)
    yield made
    postgres.drop(made)


@pytest.fixture
def served(url: str) -> Iterator[Database]:
    database = open_database(url, wait_ms=200)
    yield database
    database.close()


@pytest.fixture
def db(request: pytest.FixtureRequest) -> Database:
    found: Database = request.getfixturevalue({SQLITE: "filed", SERVER: "served"}[request.param])
    return found


@pytest.fixture
def where(request: pytest.FixtureRequest) -> str:
    return str(request.getfixturevalue({SQLITE: "path", SERVER: "url"}[request.param]))


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    for name in {"db", "where"} & set(metafunc.fixturenames):
        kinds = [SQLITE] if "path" in metafunc.fixturenames else BOTH
        metafunc.parametrize(name, kinds, indirect=True)
