"""Tern & Tide for each test, copied from one that is set up once.

Most tests of the kitchen are run on SQLite alone: what they ask is asked in Python, and the
journal's own tests have shown that both databases keep and give the same rows in the same order.
Those in ``ON_BOTH`` put the most different questions to the database, and are run on PostgreSQL
once more. All of them would be, if a database of PostgreSQL's were as cheap as a copied file.
"""

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from holdlog.journal.engine import open_database
from holdlog.kitchen.kitchen import open_kitchen
from holdlog.kitchen.setup import set_up
from tests.kitchen.shop import PLAN, Hand, Shop
from tests.postgres import Server, name_in

# The day's list, a round, readings of a bad night, a void that changes what was judged before, what
# was discarded, a trace and a recall, the doctor's replay, two sites.
ON_BOTH = {
    "test_corrections",
    "test_doctor",
    "test_due",
    "test_ended",
    "test_excursions",
    "test_round",
    "test_sites",
    "test_trace",
}
# Of these: what listens to SQLite itself, and what makes a kitchen for each of many examples.
NOT_ON_BOTH = {
    "test_the_cost_of_a_trace_is_that_of_what_it_finds",
    "test_a_recall_holds_all_that_is_live_and_lists_all_that_is_gone",
    "test_a_sauce_fed_from_itself_for_a_year_is_followed_to_its_first_day",
    "test_nothing_live_that_holds_a_recalled_lot_may_be_served",
    "test_a_trace_finds_what_networkx_finds",
    "test_all_of_the_time_beyond_an_event_is_somewhere",
    "test_two_halves_of_a_file_say_what_the_whole_says",
    "test_what_food_was_exposed_to_is_what_numpy_counts",
    "test_lifting_a_recall_gives_back_exactly_what_it_held",
}
SQLITE, SERVER = "sqlite", "postgresql"


@pytest.fixture(scope="session")
def set_up_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("kitchen") / "template.db"
    db = open_database(path)
    set_up(db, Hand().clock, "JR", PLAN)
    db.close()
    return path


@pytest.fixture(scope="session")
def set_up_on_server(postgres: Server) -> str:
    url = postgres.fresh()
    db = open_database(url)
    set_up(db, Hand().clock, "JR", PLAN)
    db.close()
    return name_in(url)


@pytest.fixture
def another(
    request: pytest.FixtureRequest, set_up_once: Path, tmp_path: Path
) -> Iterator[Callable[[], Shop]]:
    """Makes fresh kitchens."""
    made: list[Shop] = []

    def opened(where: str | Path, path: Path, url: str) -> Shop:
        db, hand = open_database(where, must_exist=True, wait_ms=2000), Hand()
        made.append(Shop(db, path, hand, open_kitchen(db, hand.clock, hand.draw), url))
        return made[-1]

    def in_a_file() -> Shop:
        path = Path(shutil.copy(set_up_once, tmp_path / f"kitchen{len(made)}.db"))
        return opened(path, path, "")

    def on_a_server() -> Shop:
        server: Server = request.getfixturevalue("postgres")
        url = server.fresh(request.getfixturevalue("set_up_on_server"))
        return opened(url, Path("no file", "it is on a server"), url)

    yield in_a_file if getattr(request, "param", SQLITE) == SQLITE else on_a_server
    for shop in made:
        shop.db.close()
        if shop.url:
            request.getfixturevalue("postgres").drop(shop.url)


@pytest.fixture
def shop(another: Callable[[], Shop]) -> Shop:
    return another()


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    wanted = metafunc.module.__name__.rpartition(".")[2] in ON_BOTH
    if "another" in metafunc.fixturenames and wanted:
        both = [SQLITE, pytest.param(SERVER, marks=pytest.mark.postgres)]
        kinds = [SQLITE] if metafunc.function.__name__ in NOT_ON_BOTH else both
        metafunc.parametrize("another", kinds, indirect=True)
