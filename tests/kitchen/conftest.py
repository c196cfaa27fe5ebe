"""Tern & Tide for each test, copied from one that is set up once."""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from holdlog.journal.engine import open_database
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.setup import set_up
from tests.kitchen.shop import PLAN, Hand, Shop


@pytest.fixture(scope="session")
def set_up_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kitchen") / "template.db"
    db = open_database(path)
    set_up(db, Hand().clock, "JR", PLAN)
    db.close()
    return path


@pytest.fixture
def another(set_up_once: Path, tmp_path: Path) -> Iterator[Callable[[], Shop]]:
    """Makes fresh kitchens."""
    made: list[Shop] = []

    def make() -> Shop:
        path = Path(shutil.copy(set_up_once, tmp_path / f"kitchen{len(made)}.db"))
        db = open_database(path, must_exist=True, wait_ms=2000)
        hand = Hand()
        made.append(Shop(db, path, hand, open_kitchen(db, hand.clock, hand.draw)))
        return made[-1]

    yield make
    for shop in made:
        shop.db.close()


@pytest.fixture
def shop(another: Callable[[], Shop]) -> Shop:
    return another()
