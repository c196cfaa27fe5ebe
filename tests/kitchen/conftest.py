"""Tern & Tide for each test, copied from one that is set up once.

Most tests of the kitchen are run on SQLite alone: what they ask is asked in Python, and the
journal's own tests have shown that both databases keep and give the same rows in the same order.
Those in ``ON_BOTH`` and ``THESE_ON_BOTH`` put the most different questions to the database, and are
run on PostgreSQL once more. All of them would be, if a database of PostgreSQL's were as cheap as a
copied file.
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
# was discarded, a trace and a recall, the doctor's replay, two sites, every register.
ON_BOTH = {
    "test_corrections",
    "test_doctor",
    "test_due",
    "test_ended",
    "test_excursions",
    "test_recall_law",
    "test_registers",
    "test_round",
    "test_sites",
    "test_trace",
}
# Of these: what listens to SQLite itself or is damaged in its way, and what makes a kitchen for
# each of many examples.
NOT_ON_BOTH = {
    "test_a_code_that_is_no_text_any_more_is_found_and_mended",
    "test_the_cost_of_a_trace_is_that_of_what_it_finds",
    "test_a_recall_holds_all_that_is_live_and_lists_all_that_is_gone",
    "test_a_sauce_fed_from_itself_for_a_year_is_followed_to_its_first_day",
    "test_nothing_live_that_holds_a_recalled_lot_may_be_served",
    "test_without_a_paper_nothing_under_a_recall_is_set_free",
    "test_a_trace_finds_what_networkx_finds",
    "test_all_of_the_time_beyond_an_event_is_somewhere",
    "test_two_halves_of_a_file_say_what_the_whole_says",
    "test_what_food_was_exposed_to_is_what_numpy_counts",
    "test_lifting_a_recall_gives_back_exactly_what_it_held",
}
# Of the other modules, those whose question to the database no other test puts: a file of stock or
# of items read in whole or not at all, the readings of a unit, the inspector's file and the audit.
THESE_ON_BOTH = {
    "test_the_example_can_be_read_in_as_it_stands",
    "test_a_fault_in_row_57_leaves_nothing",
    "test_what_only_the_rules_refuse_is_a_fault_of_its_row_too",
    "test_the_same_file_is_not_read_in_twice",
    "test_days_in_the_freezer_count_only_with_evidence",
    "test_items_go_out_and_come_back_the_same",
    "test_an_item_that_stands_twice_or_is_of_no_category_is_a_fault",
    "test_a_lot_that_looks_like_a_recalled_one_is_read_in_only_where_the_row_says_it_was_compared",
    "test_the_newest_reading_counts_whoever_took_it",
    "test_one_command_holds_the_whole_unit_and_nothing_else",
    "test_what_left_in_that_time_is_named_and_what_moved_is_held_too",
    "test_what_was_taken_out_of_a_tub_carries_the_time_before",
    "test_a_wrong_reading_is_taken_back_with_what_it_did",
    "test_the_morning_names_a_unit_that_is_beyond_or_not_read_for_a_day",
    "test_a_unit_shows_its_day_and_what_is_in_it",
    "test_all_that_the_audit_knows_stands_in_the_file",
    "test_it_counts_what_happened",
    "test_one_unit_item_or_cook_is_asked_for_alone",
    "test_asked_for_one_item_no_other_items_corrections_are_told",
    "test_a_late_entry_stands_in_the_period_it_tells_of_and_in_that_it_was_written_in",
    "test_all_that_puts_food_out_of_use_is_among_the_holds",
    "test_a_cost_of_which_a_part_is_unknown_says_so",
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
    module, test = metafunc.module.__name__.rpartition(".")[2], metafunc.function.__name__
    if "another" in metafunc.fixturenames and (module in ON_BOTH or test in THESE_ON_BOTH):
        both = [SQLITE, pytest.param(SERVER, marks=pytest.mark.postgres)]
        kinds = [SQLITE] if test in NOT_ON_BOTH else both
        metafunc.parametrize("another", kinds, indirect=True)
