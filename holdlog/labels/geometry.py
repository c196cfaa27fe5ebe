"""Boxes, from millimetres to whole printer dots, and where a symbol stands inside one."""

from dataclasses import dataclass
from functools import lru_cache

MM_PER_INCH = 25.4


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle in millimetres."""

    x: float
    y: float
    width: float
    height: float

    @property
    def right(self) -> float:
        """Where it ends, itself not included."""
        return self.x + self.width

    @property
    def bottom(self) -> float:
        """Where it ends, itself not included."""
        return self.y + self.height


@dataclass(frozen=True, slots=True)
class Dots:
    """A rectangle in whole dots."""

    x: int
    y: int
    width: int
    height: int

    @property
    def right(self) -> int:
        """Where it ends, itself not included."""
        return self.x + self.width

    @property
    def bottom(self) -> int:
        """Where it ends, itself not included."""
        return self.y + self.height

    def touches(self, other: "Dots") -> bool:
        """Whether the two share any dot."""
        return (
            self.x < other.right
            and other.x < self.right
            and self.y < other.bottom
            and other.y < self.bottom
        )

    def inside(self, other: "Dots") -> bool:
        """Whether this lies wholly within ``other``."""
        return (
            self.x >= other.x
            and self.y >= other.y
            and self.right <= other.right
            and self.bottom <= other.bottom
        )


def dots(mm: float, dpi: int) -> int:
    """``mm`` in the nearest whole number of dots."""
    return round(mm * dpi / MM_PER_INCH)


@lru_cache(maxsize=1024)
def to_dots(box: Box, dpi: int) -> Dots:
    """A box in whole dots, each edge rounded by itself, so that boxes that meet still meet."""
    x, y = dots(box.x, dpi), dots(box.y, dpi)
    return Dots(x, y, dots(box.right, dpi) - x, dots(box.bottom, dpi) - y)


@dataclass(frozen=True, slots=True)
class Symbol:
    """Where a symbol's ink stands, the side of its module, and the white it needs around it."""

    ink: Dots
    module: int
    quiet: Dots


def place_bars(box: Dots, modules: int, quiet: int) -> Symbol | None:
    """Bars of ``modules`` modules at the left of ``box``, as wide as fit; ``None`` below 2 dots.

    A module of one dot is too thin for thermal paper. Bars need white at left and right only.
    """
    module = box.width // modules
    if module < 2:  # noqa: PLR2004
        return None
    ink = Dots(box.x, box.y, modules * module, box.height)
    return Symbol(
        ink,
        module,
        Dots(ink.x - quiet * module, ink.y, ink.width + 2 * quiet * module, ink.height),
    )


def place_square(box: Dots, side: int, quiet: int) -> Symbol | None:
    """A square symbol of ``side`` modules in the middle of ``box``; ``None`` below 2 dots."""
    module = min(box.width, box.height) // side
    if module < 2:  # noqa: PLR2004
        return None
    length = side * module
    ink = Dots(
        box.x + (box.width - length) // 2, box.y + (box.height - length) // 2, length, length
    )
    white = quiet * module
    return Symbol(
        ink, module, Dots(ink.x - white, ink.y - white, length + 2 * white, length + 2 * white)
    )
