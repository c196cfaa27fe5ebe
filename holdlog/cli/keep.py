"""Keeping the journal: correct, void, confirm, doctor, db upgrade."""

from typing import TYPE_CHECKING, Annotated

import typer

from holdlog.cli.heads import Heads, HeadsFile, head_says, heads_given, typed_right
from holdlog.cli.show import columns, count_of, emit, looks_recalled, note, row_json, row_line, say
from holdlog.cli.wiring import By, Code, Json, OtherLot, database, kitchen, moment

if TYPE_CHECKING:
    from holdlog.journal.checks import Finding
    from holdlog.kitchen.correct import Corrected
    from holdlog.kitchen.kitchen import Kitchen

Number = Annotated[
    int, typer.Argument(metavar="ENTRY", help="The entry's number (see holdlog why).")
]
Why = Annotated[str, typer.Option("--why", help="Why it was wrong.", show_default=False)]
Evidence = Annotated[
    str,
    typer.Option("--evidence", help="The paper or logger it rests on (person in charge).",
                 show_default=False),
]  # fmt: skip


def correct(
    context: typer.Context,
    code: Code,
    made: Annotated[
        str, typer.Option("--made", help="When it was really made.", show_default=False)
    ] = "",
    allergen: Annotated[
        list[str], typer.Option("--allergen", "-a", help="Its true allergens.", show_default=False)
    ] = [],  # noqa: B006
    amount: Annotated[
        str, typer.Option("--amount", help="How much all of it was.", show_default=False)
    ] = "",
    lot: Annotated[
        str, typer.Option("--lot", help="The maker's lot it is of.", show_default=False)
    ] = "",
    other_lot: OtherLot = False,
    why: Why = "",
    evidence: Evidence = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Correct a batch: the old entry is voided and stays readable, the right one is added.

    A lot that is recalled is given up only on a named paper (--evidence). One that looks like a
    recalled lot is taken only once they were compared (--other-lot).

    \b
    Examples:
      holdlog correct H7K3-9QX2 --made "yesterday 22:30" --why "typed after midnight"
      holdlog correct H7K3-9QX2 --amount 8l --why "weighed again"
      holdlog correct H7K3-9QX2 --lot L442 --why "read again from the crate"
    """
    from holdlog.core import events as ev
    from holdlog.core.amounts import read_amount
    from holdlog.core.errors import Mistake
    from holdlog.kitchen.correct import correct_making, with_allergens, with_amount, with_lot
    from holdlog.kitchen.items import check_allergens

    if not (made or allergen or amount or lot.strip()):
        raise Mistake("no-change", "Correct what?", "Say --made, --allergen, --amount or --lot.")
    changes = [with_allergens(check_allergens(allergen))] if allergen else []
    changes += [with_amount(read_amount(amount))] if amount else []
    changes += [with_lot(lot)] if lot.strip() else []

    def change(fact: ev.Fact) -> ev.Fact:
        for each in changes:
            fact = each(fact)
        return fact

    shop = kitchen(context)
    done = correct_making(
        shop, by, code, change, moment(shop, made) if made else None, why, evidence,
        lot_compared=other_lot,
    )  # fmt: skip
    for each in done.near:
        note(looks_recalled(each, lot.strip()))
    _corrected(done, shop, json=json, headline="Corrected. Make its labels again: holdlog label.")


def void(
    context: typer.Context,
    entry: Number,
    why: Why = "",
    evidence: Evidence = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Take an entry back. It stays readable, with the reason.

    A recall is lifted so, and only on a named paper: --evidence "maker's letter of 4 June".

    \b
    Example:
      holdlog void 112 --why "binned the wrong tub, it is still here"
    """
    from holdlog.kitchen.correct import void as job

    shop = kitchen(context)
    done = job(shop, by, entry, why, evidence)
    head = "Voided once it is confirmed, NOT YET" if done.pending else "Voided"
    _corrected(done, shop, json=json, headline=f"{head}: {done.says}.")


def confirm(
    context: typer.Context,
    entry: Number,
    evidence: Evidence = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""The person in charge confirms a late entry, and names the paper or logger it rests on.

    \b
    Example:
      holdlog confirm 113 --evidence "cooling sheet 12, signed MK" --by JR
    """
    from holdlog.kitchen.correct import confirm as job

    shop = kitchen(context)
    done = job(shop, by, entry, evidence)
    _corrected(done, shop, json=json, headline=f"Confirmed: {done.says}.")


def _corrected(done: "Corrected", shop: "Kitchen", *, json: bool, headline: str) -> None:
    live = [row for row in done.rows if row.ended_at is None]
    if json:
        rows = [row_json(row, shop) for row in done.rows]
        emit({"entry": done.entry, "pending": done.pending, "containers": rows})
        return
    lines = [headline, *(row_line(row, shop) for row in live)]
    if done.pending:
        lines.append(
            "It was written on an earlier day, so the stricter fact counts until the person in "
            f'charge confirms this with: holdlog confirm {done.entry} --evidence "…"'
        )
    say(lines)


def doctor(
    context: typer.Context,
    rebuild: Annotated[
        bool, typer.Option("--rebuild", help="Write what is on hand anew from the journal.")
    ] = False,
    head: Heads = [],  # noqa: B006
    heads: HeadsFile = "",
    by: By = "",
    json: Json = False,
) -> None:
    r"""Check the journal: its chain, the database, and that what is on hand is what it says.

    The chain shows an edit. A cut-off end, or a journal hashed anew, shows only against a head
    kept elsewhere: on labels, round sheets, in the inspector's file. Give it with --head. Who
    held the keyboard nothing shows (docs/proof.md).

    \b
    Examples:
      holdlog doctor
      holdlog doctor --head "1204 9f3a1c22"
      holdlog doctor --rebuild --by MK
    """
    from holdlog.journal.checks import Finding
    from holdlog.kitchen import doctor as job
    from holdlog.kitchen.backups import last_good
    from holdlog.kitchen.proof import compare

    kept = heads_given(head, heads)
    shop = kitchen(context)
    if rebuild:
        count = job.rebuild(shop, by)
        if not json:
            say([f"Written anew: {count_of(count, 'container')}."])
    findings = job.examine(shop)
    compared = compare(shop, kept) if kept else ()
    findings += [Finding("head", each.ok, head_says(each, shop)) for each in compared]
    bad = [each for each in findings if not each.ok]
    # A journal without a backup is whole: that is a warning, and no check that failed.
    backup = last_good(shop)
    if json:
        every = [*findings, backup]
        emit([{"check": each.name, "ok": each.ok, "says": each.says} for each in every])
    else:
        states = ["LOOK" if each.look else "good" if each.ok else "BAD" for each in findings]
        states.append("good" if backup.ok else "LOOK")
        say(_laid(states, [*findings, backup]))
        say(["All is well." if not bad else f"{len(bad)} of {len(findings)} checks failed."])
        say(typed_right(compared))
    if bad:
        raise typer.Exit(1)


def _laid(states: list[str], findings: "list[Finding]") -> list[str]:
    """One finding under the other. Not as a table, which cuts a word that is too long for its
    column: a path has to stay whole to be copied.
    """
    from holdlog.core.visible import visible
    from holdlog.reports.wrapping import GAP, pad, wrap

    wide, longest = columns(), max(len(each.name) for each in findings)
    lines = []
    for state, each in zip(states, findings, strict=True):
        first = f"{GAP}{pad(state, 4)}{GAP}{pad(each.name, longest)}{GAP}"
        # Where that leaves no room for words, they go under it.
        rest = " " * len(first) if wide >= 2 * len(first) else GAP + GAP
        lines += wrap(visible(each.says), wide, first=first, rest=rest)
    return lines


def upgrade(context: typer.Context, json: Json = False) -> None:
    r"""Bring an older journal to this version. A copy is made first.

    \b
    Example:
      holdlog db upgrade
    """
    from holdlog.journal import migrate

    base = database(context)
    copy = migrate.upgrade(base)
    if json:
        emit({"journal": base.name, "copy": str(copy) if copy else None})
    elif copy is None:
        say([f"{base.name} is up to date."])
    else:
        say([f"{base.name} is upgraded.", f"The journal as it was: {copy}"])
