"""What grease, scratches and a worn print head do to a label: a short run of the damage bench.

Damage is simulated and seeded, the reader is zxing-cpp; ``python -m benchmarks damage`` has more
labels and more kinds of damage.
"""

import pytest

from benchmarks import damage
from benchmarks.damage import Count, Damage, measure
from holdlog.core import codes

EACH = 8
SEED = 7
KINDS = {kind.name: kind for kind in damage.ALL}


def count(name: str, *, turned: bool = False) -> Count:
    return measure(KINDS[name], EACH, SEED, turned=turned)


@pytest.mark.parametrize("turned", [False, True], ids=["upright", "turned"])
def test_every_undamaged_label_is_read_by_both_symbols(turned: bool) -> None:
    seen = count("none", turned=turned)
    assert (seen.bars, seen.qr, seen.either, seen.wrong) == (EACH, EACH, EACH, 0)


@pytest.mark.parametrize("turned", [False, True], ids=["upright", "turned"])
@pytest.mark.parametrize("name", [name for name in KINDS if name != "none"])
def test_both_together_are_never_under_one_alone_and_no_wrong_code_is_believed(
    name: str, turned: bool
) -> None:
    seen = count(name, turned=turned)
    assert seen.labels == EACH
    assert seen.either >= max(seen.bars, seen.qr)
    assert seen.accepted == 0


def test_each_symbol_survives_what_the_other_does_not() -> None:
    lines, soft = count("40 lost lines"), count("blur, sigma 0.20 mm")
    assert lines.bars == EACH > lines.qr
    assert soft.qr == EACH > soft.bars


def test_bars_across_the_feed_survive_a_worn_print_head() -> None:
    upright, turned = (count("10 dead head dots", turned=across) for across in (False, True))
    assert turned.bars == EACH > upright.bars


# Texts that zxing-cpp read from damaged labels with a checksum of Code 128 that fitted, seen while
# this design was measured; the label's own code stands before each.
@pytest.mark.parametrize(("printed", "seen"), [("RKVXS7CD", "RKVXSRCD"), ("EN55F9GG", "EN5PF9UG")])
def test_a_misread_that_fits_its_checksum_is_not_believed(printed: str, seen: str) -> None:
    counted = Count()
    counted.add(printed, damage.Seen(frozenset({seen}), frozenset()), codes.is_code)
    assert (counted.bars, counted.either, counted.wrong, counted.accepted) == (0, 0, 1, 0)


def test_a_label_without_a_symbol_counts_as_unread() -> None:
    from random import Random

    from PIL import Image

    gone = Damage("all gone", lambda paper, _: Image.new("L", paper.size, 255))
    assert measure(gone, 2, SEED) == Count(labels=2)
    picture = damage.photograph(Image.new("1", (406, 406), 1), damage.NONE, Random(1))
    assert damage.scan(picture) == damage.Seen(frozenset(), frozenset())
