"""Waiting without a clock: what was waited is the sum of the pauses."""

from collections.abc import Callable

LOOK = "look whether the labels came out"
STOPPED_ANSWERING = f"the printer stopped answering: {LOOK}"


class Patience:
    """How long to go on without news. Pauses grow, so that a long wait asks less often.

    ``pause`` waits so many seconds; ``seconds`` is how long without news is borne.
    """

    def __init__(
        self, pause: Callable[[float], None], seconds: float, *, first: float = 0.1, most: float = 2
    ) -> None:
        self._pause, self._whole, self._left = pause, max(0.0, seconds), max(0.0, seconds)
        self._first, self._most, self._step = first, most, first

    def wait(self) -> bool:
        """Pause once; ``False``, and no pause, when nothing is left."""
        if self._left <= 0:
            return False
        step = min(self._step, self._left)
        self._pause(step)
        self._left -= step
        self._step = min(self._step * 1.5, self._most)
        return True

    def spend(self, seconds: float) -> None:
        """Count time that went by elsewhere, as in a request that nobody answered."""
        self._left -= seconds

    def news(self) -> None:
        """Something happened: start afresh."""
        self._left, self._step = self._whole, self._first
