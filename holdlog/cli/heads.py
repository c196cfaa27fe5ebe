"""The heads that a person gives to ``doctor`` and ``verify``, and what is said of each."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from holdlog.cli.wiring import typed

if TYPE_CHECKING:
    from holdlog.core.heads import Compared, KeptHead
    from holdlog.core.moments import Instant
    from holdlog.kitchen.kitchen import Kitchen

Heads = Annotated[
    list[str],
    typer.Option(
        "--head", metavar="HEAD", show_default=False,
        help='One kept on paper, as printed: "1204 9f3a1c22". Several: say it again.',
    ),
]  # fmt: skip
HeadsFile = Annotated[
    str,
    typer.Option(
        "--heads", metavar="FILE", show_default=False, help="A file of them, one a line (-: typed)."
    ),
]


def heads_given(heads: Sequence[str], file: str) -> "list[KeptHead]":
    """The heads of the options, each once, before anything is looked at. Raises ``Mistake``."""
    from holdlog.core.heads import read_head, read_heads

    found = [read_head(each) for each in heads]
    if file:
        found += read_heads(file, typed(file, "a head a line, as it is printed").splitlines())
    return list(dict.fromkeys(found))


def head_says(each: "Compared", shop: "Kitchen | None" = None) -> str:
    """What a head shows; its moment by the clocks of ``shop``, else as UTC."""
    from zoneinfo import ZoneInfo

    from holdlog.core.heads import head_told
    from holdlog.core.moments import show_dated

    where = shop.where if shop is not None else ZoneInfo("UTC")

    def when(at: "Instant") -> str:
        return f"{show_dated(at, where)}{'' if shop is not None else ' UTC'}"

    return head_told(each, when)


def heads_json(compared: "Sequence[Compared]") -> list[dict[str, Any]]:
    """Each head for programs."""
    return [
        {
            "head": each.kept.shown,
            "ok": each.ok,
            "entry": each.entry.number if each.entry is not None else None,
            "says": head_says(each),
        }
        for each in compared
    ]


def typed_right(compared: "Sequence[Compared]") -> list[str]:
    """What to look at first where a head is not of this journal."""
    if all(each.ok for each in compared):
        return []
    return ["Look whether it is typed as it is printed; then read docs/proof.md."]
