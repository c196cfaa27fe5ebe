"""What one torture came to."""

from dataclasses import dataclass, field


@dataclass(frozen=True)
class Outcome:
    """The figures of one torture, and what went wrong.

    ``control`` marks a build that was spoilt on purpose: there ``wrong`` has to say something, or
    the check that let it through is worth nothing.
    """

    name: str
    figures: dict[str, int | float | str]
    wrong: list[str] = field(default_factory=list)
    control: bool = False

    @property
    def as_it_should_be(self) -> bool:
        """Nothing wrong; of a control build, something wrong."""
        return bool(self.wrong) is self.control
