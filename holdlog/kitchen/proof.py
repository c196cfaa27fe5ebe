"""Heads kept on paper, held against the journal: is it still the one they were printed from?"""

from collections.abc import Sequence

from holdlog.core.chain import FIRST, fault_of
from holdlog.core.heads import Compared, Comparison, KeptHead
from holdlog.journal import entries as journal_entries
from holdlog.kitchen.kitchen import Kitchen


def compare(kitchen: Kitchen, heads: Sequence[KeptHead]) -> tuple[Compared, ...]:
    """What each of ``heads`` shows of the journal.

    Every hash is worked out anew on the way: a stored one says nothing of the entry beside it.
    """
    comparison = Comparison(heads)
    previous, broken = FIRST, False
    with kitchen.db.reading() as conn:
        for number, entry in enumerate(journal_entries.stream(conn, kitchen.site), 1):
            broken = fault_of(entry, number, previous) is not None
            if broken:
                break
            comparison.see(entry)
            previous = entry.hash
    return comparison.results(broken=broken)
