"""Corrections, late entries, the audit and the story: nothing is overwritten, nothing is lost."""

from collections import Counter, defaultdict
from decimal import Decimal

import pytest

from holdlog.core import events as ev
from holdlog.core.amounts import read_amount
from holdlog.core.errors import Mistake
from holdlog.journal.codec import fact_of
from holdlog.kitchen import correct, discard, handle
from holdlog.kitchen.audit import audit
from holdlog.kitchen.correct import correct_making, with_lot
from holdlog.kitchen.recall import recall
from holdlog.kitchen.telling import tell
from holdlog.kitchen.trace import trace
from holdlog.kitchen.why import why
from tests.kitchen.cooling_log import log_cooling
from tests.kitchen.shop import Shop, at, codes, day, temp


def newest(shop: Shop, kind: str) -> int:
    return shop.facts(kind)[-1].number


# ---- voids -----------------------------------------------------------------------------------


def test_a_tub_binned_by_mistake_comes_back(shop: Shop) -> None:
    code = shop.tub()
    discard.discard(shop.kitchen, "mk", code, shop.hand.now, "off")
    shop.it_is("06-03 09:00")
    done = correct.void(shop.kitchen, "mk", newest(shop, "discarded"), "the wrong tub")
    assert not done.pending
    assert shop.row(code).ended_at is None
    assert shop.everything() == shop.replayed()


def test_a_split_that_was_voided_gives_the_old_tub_back(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    one, two = codes(handle.split(shop.kitchen, "mk", code, shop.hand.now, 2).made)
    deep = handle.split(shop.kitchen, "mk", one, shop.hand.now, 1).made[0].code
    split = next(entry for entry in shop.facts("split") if entry.subject == code)
    correct.void(shop.kitchen, "mk", split.number, "it was another tub")
    assert (shop.row(code).ended_at, shop.row(code).amount) == (None, "6 l")
    assert {shop.row(each).ended_as for each in (two, deep)} == {"voided"}
    assert codes(shop.live()) == [code]
    assert shop.everything() == shop.replayed()


def test_a_top_up_that_was_voided_parts_the_tubs_again(shop: Shop) -> None:
    old = shop.tub(amount="2 l")
    shop.it_is("06-03 09:00")
    new = shop.tub(amount="2 l")
    handle.top_up(shop.kitchen, "mk", new, old, shop.hand.now)
    correct.void(shop.kitchen, "mk", newest(shop, "topped-up"), "not poured after all")
    assert (shop.row(new).last_day, shop.row(new).amount) == ("2026-06-09", "2 l")
    assert shop.row(old).ended_at is None


def test_a_batch_that_was_voided_gives_its_ingredients_back(shop: Shop) -> None:
    stock = shop.tub()
    dish = shop.prep("fish stock", made_from=(stock,))
    correct.void(shop.kitchen, "mk", newest(shop, "prepared"), "never cooked")
    assert shop.row(stock).ended_at is None
    assert shop.row(dish.rows[0].code).ended_as == "voided"
    assert shop.row(dish.rows[0].code).item_name == "fish stock"
    assert shop.everything() == shop.replayed()


def test_voiding_a_bad_reading_on_a_later_day_waits_for_the_person_in_charge(shop: Shop) -> None:
    code = shop.tub()
    handle.reading(shop.kitchen, "mk", code, shop.hand.now, temp("60 F"))
    number = newest(shop, "reading")
    shop.it_is("06-02 09:00")
    done = correct.void(shop.kitchen, "mk", number, "probe was in the stove")
    assert done.pending
    assert shop.row(code).verdict == "hold"
    correct.confirm(shop.kitchen, "jr", newest(shop, "voided"), "logger of the walk-in")
    assert shop.row(code).verdict == ""


def test_a_good_reading_that_is_disputed_proves_nothing(shop: Shop) -> None:
    code = shop.tub(off_heat_at=shop.hand.now)
    for when, reading in (("07:30", "69 F"), ("11:00", "40 F")):
        shop.it_is(f"06-01 {when}")
        log_cooling(shop.kitchen, "mk", code, shop.hand.now, temp(reading))
    assert shop.row(code).verdict == ""
    shop.it_is("06-02 09:00")
    correct.void(shop.kitchen, "mk", newest(shop, "cooling"), "that was another pot")
    # Waiting for the person in charge must not leave it fit to be served.
    assert shop.row(code).verdict == "hold"
    assert shop.everything() == shop.replayed()


def test_a_freezing_is_voided_at_once_since_that_shortens(shop: Shop) -> None:
    code = shop.tub()
    handle.freeze(shop.kitchen, "mk", code, shop.hand.now, None)
    shop.it_is("06-05 09:00")
    done = correct.void(shop.kitchen, "mk", newest(shop, "frozen"), "it stayed in the walk-in")
    assert not done.pending
    assert (shop.row(code).last_day, shop.row(code).unit) == ("2026-06-07", "walk-in")


def test_a_label_is_not_voided_it_is_made_again(shop: Shop) -> None:
    code = shop.tub()
    with shop.kitchen.writing("mk") as write:
        write.append((ev.Labelled("t", "prepared", at("06-03 23:59")), write.recorded_at, code))
        write.settle(code)
    assert shop.row(code).use_by == at("06-03 23:59")
    with pytest.raises(Mistake) as told:
        correct.void(shop.kitchen, "mk", newest(shop, "labelled"), "jammed")
    assert told.value.code == "not-voidable"
    assert "holdlog label" in told.value.hint


# ---- the making corrected --------------------------------------------------------------------


def test_an_earlier_making_counts_at_once_and_a_later_one_waits(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 09:00")
    change = correct.unchanged
    done = correct.correct_making(shop.kitchen, "mk", code, change, at("05-31 22:00"), "midnight")
    assert done.rows[0].last_day == "2026-06-06"
    shop.it_is("06-03 09:00")
    done = correct.correct_making(shop.kitchen, "mk", code, change, at("06-02 08:00"), "mixed up")
    assert (done.pending, shop.row(code).last_day) == (True, "2026-06-06")
    assert shop.row(code).made_at == at("05-31 22:00")
    first, second = (entry.number for entry in shop.facts("voided"))
    assert done.entry == second
    waits = {each.says: each.disputed for each in why(shop.kitchen, code).story if each.disputed}
    assert len(waits) == 1  # told beside the fact that still counts, not beside the void
    correct.confirm(shop.kitchen, "jr", second, "prep sheet 12, MK")
    assert shop.row(code).last_day == "2026-06-07"  # the first entry of all still counts
    correct.confirm(shop.kitchen, "jr", first, "prep sheet 12, MK")
    assert shop.row(code).last_day == "2026-06-08"
    assert shop.everything() == shop.replayed()


def test_a_later_making_with_evidence_counts_at_once(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-02 09:00")
    done = correct.correct_making(
        shop.kitchen, "jr", code, correct.unchanged, at("06-02 08:00"), "mixed up", "prep sheet 12"
    )
    assert (done.pending, done.rows[0].last_day) == (False, "2026-06-08")


def test_corrected_allergens_keep_those_of_what_went_in(shop: Shop) -> None:
    fish = shop.tub("fish stock", allergens=("fish",))
    code = shop.prep("lentil, cooked", made_from=(fish,), allergens=("milk",)).rows[0].code
    correct.correct_making(
        shop.kitchen, "mk", code, correct.with_allergens(("egg",)), None, "no milk in it"
    )
    assert set(why(shop.kitchen, code).allergens) == {"egg", "fish"}
    with pytest.raises(Mistake, match="none of the nine"):
        correct.with_allergens(("celery",))


# ---- why -------------------------------------------------------------------------------------


def test_the_story_tells_who_did_what_and_what_no_longer_counts(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    handle.reading(shop.kitchen, "an", code, shop.hand.now, temp("60 F"))
    correct.void(shop.kitchen, "jr", newest(shop, "reading"), "wrong tub")
    part = handle.split(shop.kitchen, "mk", code, shop.hand.now, 1, keep=True).made[0].code
    shop.it_is("06-02 09:00")
    handle.move(shop.kitchen, "an", code, shop.hand.now, shop.unit("reach-in"))
    handle.reading(shop.kitchen, "an", part, at("06-01 20:00"), temp("39 F"))
    told = why(shop.kitchen, part)
    said = [(each.by, each.says, each.voided, each.late) for each in told.story]
    assert said[0] == ("MK", "prepared, 6 l, into the walk-in", False, False)
    assert ("AN", "60 °F where it is held", True, False) in said
    assert any(who == "JR" and "wrong tub" in says for who, says, _, _ in said)
    assert ("AN", "39 °F where it is held", False, True) in said
    # What happened to the other tub after the split is not this one's story.
    assert not any("reach-in" in says for _, says, _, _ in said)
    assert told.holding.binding is not None
    assert told.holding.binding.source.cite == "3-501.17(A)"
    assert told.defer


def test_a_disputed_entry_is_told_as_such(shop: Shop) -> None:
    code = shop.tub()
    handle.reading(shop.kitchen, "an", code, shop.hand.now, temp("60 F"))
    shop.it_is("06-02 09:00")
    correct.void(shop.kitchen, "jr", newest(shop, "reading"), "wrong tub")
    (reading,) = [each for each in why(shop.kitchen, code).story if "60" in each.says]
    assert (reading.voided, reading.disputed) == (False, True)


# ---- audit -----------------------------------------------------------------------------------


def _a_week(shop: Shop) -> None:
    for number, (item, amount, reason, who) in enumerate(
        [
            ("chicken stock", "6 l", "date", "mk"), ("chicken stock", "2.5 qt", "warm", "an"),
            ("garlic oil", "500 ml", "date", "mk"), ("lentil, cooked", "4 lb", "off", "mk"),
            ("lentil, cooked", "12 portion", "off", "an"), ("fish stock", "", "dropped", "an"),
            ("béchamel", "1 l", "date", "mk"),
        ]
    ):  # fmt: skip
        shop.it_is(f"06-0{1 + number} 10:00")
        code = shop.tub(item, amount=amount)
        discard.discard(shop.kitchen, who, code, shop.hand.now, reason)
    shop.it_is("06-08 09:00")
    correct.void(shop.kitchen, "jr", newest(shop, "discarded"), "the wrong tub")
    handle.end(shop.kitchen, "mk", shop.live()[0].code, at("06-07 20:00"), "staff meal", None)
    used = shop.tub("hummus")
    handle.end(shop.kitchen, "mk", used, shop.hand.now, "sold", None)
    correct.void(shop.kitchen, "mk", newest(shop, "used"), "still here")


def test_the_totals_are_those_of_an_independent_count(shop: Shop) -> None:
    _a_week(shop)
    found = audit(shop.kitchen, day("06-01"), day("06-08"))
    # Counted anew from the raw entries: NIST Handbook 44, Appendix C for the US units.
    in_base = {
        "l": ("ml", Decimal(1000)), "ml": ("ml", Decimal(1)),
        "qt": ("ml", Decimal("946.352946")), "lb": ("g", Decimal("453.59237")),
        "portion": ("portion", Decimal(1)),
    }  # fmt: skip
    entries = shop.entries()
    void = {fact.entry for fact in map(fact_of, entries) if isinstance(fact, ev.Voided)}
    sums: dict[str, Decimal] = defaultdict(Decimal)
    by_cook: Counter[str] = Counter()
    for entry in entries:
        fact = fact_of(entry)
        if isinstance(fact, ev.Discarded) and entry.number not in void:
            by_cook[entry.by] += 1
            if fact.amount is not None:
                key, size = in_base[fact.amount.unit]
                sums[key] += fact.amount.number * size
    assert found.overall.sums == dict(sums)
    assert (found.overall.containers, found.overall.unknown) == (6, 1)
    assert {total.name: total.containers for total in found.by_cook} == dict(by_cook)
    assert sum(total.containers for total in found.by_reason) == 6
    assert {total.name: total.containers for total in found.by_item}["chicken stock"] == 2
    assert dict(found.ended) == {"discarded": 6, "staff meal": 1}
    assert (found.entries, found.head) == (entries[-1].number, entries[-1].hash)


def test_the_audit_can_be_narrowed(shop: Shop) -> None:
    _a_week(shop)
    first, last = day("06-01"), day("06-08")
    assert audit(shop.kitchen, first, last, reason="date").overall.containers == 2
    assert audit(shop.kitchen, first, last, item="STOCK").overall.containers == 3
    assert audit(shop.kitchen, first, last, cook="an").overall.containers == 3
    assert audit(shop.kitchen, day("06-02"), day("06-03")).overall.containers == 2
    with pytest.raises(Mistake) as told:
        audit(shop.kitchen, last, first)
    assert told.value.code == "bad-period"


def test_late_entries_corrections_and_rulings_are_remarked(shop: Shop) -> None:
    code = shop.tub()
    shop.it_is("06-10 09:00")
    handle.freeze(shop.kitchen, "mk", code, at("06-02 09:00"), None)
    correct.void(shop.kitchen, "jr", newest(shop, "frozen"), "no")
    whats = [each.what for each in audit(shop.kitchen, day("06-08"), day("06-14")).remarks]
    # Written this week of the week before: in the audit of both.
    assert whats == ["late entry", "voided"]
    before = audit(shop.kitchen, day("06-01"), day("06-07")).remarks
    assert [each.what for each in before] == ["rules", "late entry"]


def test_an_amount_said_at_the_bin_stands(shop: Shop) -> None:
    code = shop.tub(amount="6 l")
    amount = read_amount("1.5 qt")
    discard.discard(shop.kitchen, "mk", code, shop.hand.now, "off", amount, "smelled sour")
    (binned,) = audit(shop.kitchen, day("06-01"), day("06-01")).discards
    assert (str(binned.amount), binned.note, binned.by) == ("1.5 qt", "smelled sour", "MK")


# ---- the lot ---------------------------------------------------------------------------------


def delivered(shop: Shop, lot: str) -> str:
    return shop.tub("cream, opened", kind="received", lot=lot)


def test_a_lot_that_was_left_out_is_added_and_a_recall_of_it_holds_at_once(shop: Shop) -> None:
    code = delivered(shop, "")
    dish = shop.tub(partly=(code,))
    recall(shop.kitchen, "jr", "", "L442", "listeria", absent=True)
    shop.it_is("06-02 09:00")
    correct_making(shop.kitchen, "mk", code, with_lot("l-442"), None, "read from the crate")
    assert [shop.row(each).verdict for each in (code, dish)] == ["hold", "hold"]
    assert trace(shop.kitchen, lot="L442").start.names == (shop.row(code).batch,)
    assert shop.everything() == shop.replayed()


@pytest.mark.parametrize("recalled", [True, False])
def test_a_lot_is_given_up_only_on_a_paper_where_it_is_recalled_or_on_a_later_day(
    shop: Shop, recalled: bool
) -> None:
    code = delivered(shop, "L442")
    if recalled:
        recall(shop.kitchen, "jr", "", "L442", "listeria")
    else:
        shop.it_is("06-02 09:00")
    before = shop.entries()
    with pytest.raises(Mistake, match="On what does it rest that it is lot L424"):
        correct_making(shop.kitchen, "mk", code, with_lot("L424"), None, "typed wrong")
    assert shop.entries() == before
    correct_making(shop.kitchen, "mk", code, with_lot("lot l-442"), None, "as it is printed")
    with pytest.raises(Mistake, match="On what does it rest"):  # a dash names no paper
        correct_making(shop.kitchen, "mk", code, with_lot("L424"), None, "typed wrong", "-")
    correct_making(
        shop.kitchen, "jr", code, with_lot("L424"), None, "typed wrong", "delivery note 12",
        lot_compared=True,
    )  # fmt: skip
    assert shop.row(code).verdict == ""
    with pytest.raises(Mistake, match="No batch of lot L442"):
        trace(shop.kitchen, lot="L442")
    if not recalled:
        recall(shop.kitchen, "jr", "", "L442", "listeria", absent=True)
    assert shop.everything() == shop.replayed()


def test_a_lot_is_corrected_to_one_that_looks_recalled_only_when_somebody_has_compared_them(
    shop: Shop,
) -> None:
    code = delivered(shop, "X9")
    recall(shop.kitchen, "jr", "", "L442", "listeria", absent=True)
    before = shop.entries()
    with pytest.raises(Mistake, match="L424 looks like lot L442, which is recalled") as told:
        correct_making(shop.kitchen, "mk", code, with_lot("L424"), None, "read again")
    assert "--other-lot" in told.value.hint
    assert shop.entries() == before
    lot = with_lot("L424")
    done = correct_making(shop.kitchen, "mk", code, lot, None, "read again", lot_compared=True)
    assert [each.what for each in done.near] == ["lot L442"]
    assert shop.row(code).verdict == ""
    # What is said of it otherwise is no new lot, and the recalled one itself is always taken.
    correct_making(shop.kitchen, "mk", code, correct.unchanged, at("06-01 05:00"), "came at five")
    correct_making(shop.kitchen, "mk", code, with_lot("l-442"), None, "it is that one")
    assert shop.row(code).verdict == "hold"


def test_another_correction_today_does_not_make_a_lot_of_yesterday_todays(shop: Shop) -> None:
    code = delivered(shop, "L442")
    shop.it_is("06-02 09:00")
    earlier = at("06-01 05:00")
    correct_making(shop.kitchen, "mk", code, correct.unchanged, earlier, "it came at five")
    with pytest.raises(Mistake, match="On what does it rest that it is lot L424"):
        correct_making(shop.kitchen, "mk", code, with_lot("L424"), None, "typed wrong")
    assert recall(shop.kitchen, "jr", "", "L442", "glass").live[0].code == code


def test_a_lot_typed_wrong_today_is_put_right_and_what_was_made_here_has_none(shop: Shop) -> None:
    code = delivered(shop, "L442")
    correct_making(shop.kitchen, "mk", code, with_lot("L424"), None, "typed wrong")
    assert recall(shop.kitchen, "jr", "", "L424", "glass").live[0].code == code
    with pytest.raises(Mistake, match="made here"):
        correct_making(shop.kitchen, "mk", shop.tub(), with_lot("L1"), None, "typed wrong")


def test_the_audit_says_what_was_taken_back_and_what_was_confirmed(shop: Shop) -> None:
    code = delivered(shop, "L442")
    shop.it_is("06-02 09:00")
    correct_making(shop.kitchen, "jr", code, with_lot("L424"), None, "typed wrong", "note 12")
    found = audit(shop.kitchen, day("06-02"), day("06-02"))
    (was,) = [each for each in found.remarks if each.what == "voided"]
    (why_so,) = [each for each in found.remarks if each.what == "confirmed"]
    assert "typed wrong (it said: received unopened, lot L442" in was.says
    assert f"note 12 (it said: {tell(fact_of(shop.entries()[was.number - 1]))})" in why_so.says
