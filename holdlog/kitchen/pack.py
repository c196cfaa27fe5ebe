"""Packing a container with the oxygen reduced."""

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Mistake
from holdlog.core.moments import Instant
from holdlog.kitchen.handle import Handled, at_hand, done, in_a_pack
from holdlog.kitchen.kitchen import Kitchen
from holdlog.rules.kinds import ReducedOxygenRule


def pack(
    kitchen: Kitchen, by: str, typed: str, at: Instant, how: ev.Packing, *, haccp_plan: bool
) -> Handled:
    """Pack a container ``how`` ("vacuum", "cook-chill", "sous-vide", "map").

    Raises ``Mistake``: it is not fit, it is packed already, or the adopted rules do not allow
    this pack (without a HACCP plan, or fish that is not frozen).
    """
    with kitchen.writing(by) as write:
        row, then = at_hand(write, typed, at)
        name = f"{row.item_name}, {show(row.code)},"
        if then.verdict in ("discard", "refuse"):
            raise Mistake("unfit", f"{name} is to be discarded: {then.reason}", "Do not pack it.")
        if in_a_pack(write.look(row.code, at)[0]):
            raise Mistake("is-packed", f"{name} is packed already.", "Open it: holdlog open CODE")
        if not kitchen.stack(write.conn).of_kind(ReducedOxygenRule):
            raise Mistake(
                "no-rule",
                "The adopted rules say nothing of packing with the oxygen reduced.",
                "Ask the authority before you do: this is how botulism starts.",
            )
        packed = done(write, row, ev.Packed(how, haccp_plan), at=at)
        refused = write.look(row.code, at)[1]
        if refused.verdict == "refuse":
            # The transaction ends here, and nothing of it stays.
            raise Mistake("not-allowed", f"{name} may not be packed so: {refused.reason}", "")
        return Handled(packed)
