"""An empty journal for each test, copied from one that is made once."""

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest

from holdlog.journal import migrate
from holdlog.journal.engine import Database, open_database


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
def db(path: Path) -> Iterator[Database]:
    database = open_database(path, must_exist=True, wait_ms=200)
    yield database
    database.close()
