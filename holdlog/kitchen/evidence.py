"""What an entry of a later day rests on, or one that sets food free: a paper, or a logger."""

from holdlog.core.errors import Mistake
from holdlog.core.visible import quoted


def paper(evidence: str) -> str:
    """The paper that was named; empty: nothing was said. Raises ``Mistake("no-evidence")`` for
    what names none.
    """
    said = evidence.strip()
    if said and not names_a_paper(said):
        raise Mistake(
            "no-evidence",
            f"On what does it rest? {quoted(said)} names no paper and no logger.",
            'Say it: --evidence "cooling sheet 12, MK".',
        )
    return said


def names_a_paper(evidence: str) -> bool:
    """Whether it can be looked up: a dash names nothing."""
    return any(sign.isalnum() for sign in evidence)
