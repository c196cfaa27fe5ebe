"""Kitchens for the commands: one is set up and stocked for all tests, each test has a copy."""

import shutil
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.cli.running import Till, set_up, zone_where_it_is


@dataclass(frozen=True)
class Stock:
    """The codes of what the stocked kitchen has on hand."""

    till: Till
    stock: tuple[str, str]  # chicken stock in the walk-in
    frozen: str  # pea purée in the freezer
    cooling: str  # fish stock, still warm
    ham: str  # a maker's ham, unopened
    fish: str  # raw, without a known limit


@pytest.fixture(scope="session")
def _stocked(tmp_path_factory: pytest.TempPathFactory) -> Stock:
    # At noon, so that no test meets the question about last night by chance.
    till = set_up(tmp_path_factory.mktemp("stocked") / "kitchen", zone_where_it_is(12))
    till.ok("item", "add", "ham, cooked", "-k", "cooked-meat")
    stock = till.codes("prep", "chicken stock", "6l", "-c", "2", "--tape")
    (frozen,) = till.codes("prep", "garlic oil", "500ml", "--tape")
    till.ok("freeze", frozen, "--tape")
    (cooling,) = till.codes("prep", "fish stock", "2l", "--warm", "150F", "--tape")
    (ham,) = till.codes("receive", "ham, cooked", "2kg", "--use-by", "2031-07-02", "--tape")
    (fish,) = till.codes("receive", "halibut portion, raw", "3kg", "--tape")
    return Stock(till, (stock[0], stock[1]), frozen, cooling, ham, fish)


@pytest.fixture
def stock(_stocked: Stock, tmp_path: Path) -> Stock:
    """A copy of the stocked kitchen."""
    folder = tmp_path / "kitchen"
    shutil.copytree(_stocked.till.folder, folder)
    s = _stocked
    return Stock(Till(folder), s.stock, s.frozen, s.cooling, s.ham, s.fish)


@pytest.fixture
def till(stock: Stock) -> Till:
    """The stocked kitchen, where its codes do not matter."""
    return stock.till


@pytest.fixture
def empty(tmp_path: Path) -> Till:
    """A folder without a kitchen."""
    (tmp_path / "none").mkdir()
    return Till(tmp_path / "none")
