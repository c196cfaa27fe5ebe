"""Asked for one item or one cook: an audit of a name that nobody here bears would be empty, as if
nothing had been binned. So such a name is a mistake, and what is near it is named.
"""

from collections.abc import Collection, Iterable, Sequence
from difflib import get_close_matches

from holdlog.core import events as ev
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.journal import entries as journal_entries
from holdlog.journal.engine import Connection
from holdlog.kitchen.ended import Ended
from holdlog.kitchen.items import Item
from holdlog.kitchen.kitchen import Kitchen

_MOST = 5


def refuse_unknown_item(known: Sequence[Item], item: str, ends: Iterable[Ended]) -> None:
    """Raises ``Mistake("no-item")`` where neither an item nor anything that ended in the period
    has ``item`` in its name.
    """
    names = {each.name for each in known} | {each.item for each in ends}
    lower = {name.lower(): name for name in sorted(names)}
    wanted = item.lower()
    if any(wanted in name for name in lower):
        return
    near = [lower[name] for name in get_close_matches(wanted, lower, _MOST, 0.6)]
    # One word of it, mistyped: "lentl" is near no whole name.
    words = {word.strip(",") for name in lower for word in name.split()}
    for word in get_close_matches(wanted, sorted(words), _MOST, 0.75):
        near += [full for name, full in lower.items() if word in name and full not in near]
    hint = f"Near it: {'; '.join(near[:_MOST])}." if near else "All of them: holdlog item list"
    raise Mistake("no-item", f"Nothing here is called {item!r}.", hint)


def refuse_unknown_cook(
    kitchen: Kitchen,
    conn: Connection,
    cook: str,
    seen: Collection[str],
    since: Instant,
    until: Instant,
) -> None:
    """Raises ``Mistake("no-cook")`` where ``cook`` signed nothing in the period and others did.

    ``seen`` signed for certain; only if ``cook`` is not among them is the whole period read.
    """
    wanted = cook.upper()
    if wanted in seen:
        return
    every = journal_entries.of_kinds(conn, kitchen.site, list(ev.KINDS), since=since, until=until)
    signed = sorted({entry.by for entry in every if entry.by})
    if signed and wanted not in signed:
        raise Mistake(
            "no-cook",
            f"Nobody signed as {wanted} in these days.",
            f"Who did: {', '.join(signed)}.",
        )
