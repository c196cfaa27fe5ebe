"""What an IPP printer says it can do, and what of it a job of labels may use.

A label is a picture in dots. It is only sent where the printer prints those dots as they are, on
stock of that size: a date that is scaled is blurred, and one that is cut off is dangerous.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Self

from holdlog.core.errors import Fault
from holdlog.labels.output import pdf_bytes, png_bytes
from holdlog.labels.pwg import media_name, pwg_bytes
from holdlog.labels.routes.ipp_message import Attributes, Collection, Range, Resolution, Value
from holdlog.labels.routes.printer_words import in_words, plain

if TYPE_CHECKING:
    from PIL import Image

WANTED = (
    "document-format-supported",
    "media-col-ready",
    "media-col-supported",
    "media-ready",
    "media-size-supported",
    "media-supported",
    "print-scaling-supported",
    "printer-is-accepting-jobs",
    "printer-resolution-supported",
    "printer-state",
    "printer-state-message",
    "printer-state-reasons",
    "pwg-raster-document-resolution-supported",
    "pwg-raster-document-type-supported",
)
"""The attributes that are asked for: RFC 8011, PWG 5102.4 and PWG 5100.7 (sizes)."""

STATES = {3: "idle", 4: "printing", 5: "stopped"}  # RFC 8011, 5.4.11
_CLOSE = 0.75  # mm between the template's stock and the printer's; common practice, no source
_HUNDREDTHS = 100  # IPP's sizes are in hundredths of a millimetre


@dataclass(frozen=True, slots=True)
class Size:
    """Stock that a printer takes, across and along the feed, each from least to most, in mm."""

    across: tuple[float, float]
    along: tuple[float, float]

    def holds(self, size_mm: tuple[float, float]) -> bool:
        """Whether labels of that size are this stock."""
        return all(
            least - _CLOSE <= side <= most + _CLOSE
            for side, (least, most) in zip(size_mm, (self.across, self.along), strict=True)
        )

    def words(self) -> str:
        """``50.8 × 50.8 mm``, or ``15–104 × 15–300 mm``."""
        return (
            " × ".join(
                f"{least:g}" if least == most else f"{least:g}–{most:g}"
                for least, most in (self.across, self.along)
            )
            + " mm"
        )


@dataclass(frozen=True, slots=True)
class Abilities:
    """A printer's own description. What it does not say is empty."""

    formats: frozenset[str]
    pwg_types: frozenset[str]
    pwg_resolutions: tuple[int, ...]
    resolutions: tuple[int, ...]
    loaded: tuple[Size, ...]
    sizes: tuple[Size, ...]
    takes_size: bool
    unscaled: bool
    accepting: bool
    state: str
    reasons: tuple[str, ...]

    @classmethod
    def unknown(cls) -> Self:
        """Of a printer that cannot be asked: it may take everything."""
        return cls(
            formats=frozenset({BLACK.format, PDF.format, PNG.format}),
            pwg_types=frozenset({"black_1", "sgray_8"}),
            pwg_resolutions=(),
            resolutions=(),
            loaded=(),
            sizes=(),
            takes_size=False,
            unscaled=False,
            accepting=True,
            state="unknown",
            reasons=(),
        )


def abilities(said: Attributes) -> Abilities:
    """Gather what ``WANTED`` brought."""
    scaling = _texts(said, "print-scaling-supported")
    message = [plain(text) for text in _texts(said, "printer-state-message")]
    reasons = in_words(_texts(said, "printer-state-reasons"))
    number = next(iter(said.get("printer-state", ())), None)
    return Abilities(
        formats=frozenset(text.lower() for text in _texts(said, "document-format-supported")),
        pwg_types=frozenset(_texts(said, "pwg-raster-document-type-supported")),
        pwg_resolutions=_resolutions(said, "pwg-raster-document-resolution-supported"),
        resolutions=_resolutions(said, "printer-resolution-supported"),
        loaded=_sizes(said, "media-col-ready", "media-ready"),
        sizes=_sizes(said, "media-size-supported", "media-supported"),
        takes_size="media-size" in _texts(said, "media-col-supported"),
        unscaled="none" in scaling,
        accepting=False not in said.get("printer-is-accepting-jobs", ()),
        state=STATES.get(number, "unknown") if isinstance(number, int) else "unknown",
        reasons=reasons or (tuple(filter(None, message)) if number == 5 else ()),  # noqa: PLR2004
    )


# --- what to send ----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Shape:
    """One way to send labels: IPP's name of the format, and ours."""

    format: str
    encoding: str
    grey: bool = False


BLACK = Shape("image/pwg-raster", "pwg")
GREY = Shape("image/pwg-raster", "pwg", grey=True)
PDF = Shape("application/pdf", "pdf")
PNG = Shape("image/png", "png")
_ENCODINGS = {"pwg": (BLACK, GREY), "pdf": (PDF,), "png": (PNG,)}


def usable(able: Abilities) -> tuple[str, ...]:
    """Our encodings that the printer lists, best first."""
    return tuple(
        name for name, shapes in _ENCODINGS.items() if any(_listed(able, s) for s in shapes)
    )


def shape(able: Abilities, encoding: str) -> Shape:
    """The wanted encoding, or the best other one that the printer lists; ``Fault`` for none."""
    wanted = _ENCODINGS[encoding]
    others = (shape for shapes in _ENCODINGS.values() for shape in shapes if shape not in wanted)
    for candidate in (*wanted, *others):
        if _listed(able, candidate):
            return candidate
    listed = ", ".join(sorted(plain(name) for name in able.formats)[:12]) or "nothing"
    raise Fault(
        "printer-format",
        f"the printer takes neither PWG raster nor PDF nor PNG; it lists {listed}",
        "Reach it through a print queue or a socket.",
    )


def _listed(able: Abilities, candidate: Shape) -> bool:
    if candidate.format not in able.formats:
        return False
    if candidate.format == BLACK.format:
        return ("sgray_8" if candidate.grey else "black_1") in able.pwg_types
    return True


def documents(
    chosen: Shape, images: "Sequence[Image.Image]", dpi: int, size_mm: tuple[float, float]
) -> Iterator[tuple[bytes, int]]:
    """The files to send, each with its number of labels. PNG holds one label a file."""
    if chosen is PNG:
        yield from ((png_bytes(image, dpi), 1) for image in images)
    elif chosen is PDF:
        yield pdf_bytes(images, dpi), len(images)
    else:
        media = media_name(*size_mm)
        yield pwg_bytes(images, dpi, media, grey=chosen.grey), len(images)


# --- what to refuse --------------------------------------------------------------------------


def fit(able: Abilities, chosen: Shape, dpi: int, size_mm: tuple[float, float]) -> None:
    """``Fault`` where the dots or the stock are not those the labels were drawn for."""
    raster = chosen.format == BLACK.format
    known = (raster and able.pwg_resolutions) or able.resolutions
    # A file that is scaled by a whole number keeps its bars; raster is not scaled at all.
    if known and not any(dpi == own or (not raster and own % dpi == 0) for own in known):
        listed = ", ".join(map(str, known))
        raise Fault(
            "printer-resolution",
            f"the printer prints {listed} dpi, the labels are drawn in {dpi} dpi",
            "Set the dpi of this printer.",
        )
    wanted = f"{size_mm[0]:g} × {size_mm[1]:g} mm"
    if able.sizes and not any(size.holds(size_mm) for size in able.sizes):
        raise Fault(
            "printer-media",
            f"the printer takes no labels of {wanted}; it takes {in_a_row(able.sizes)}",
            "Choose a template for one of these.",
        )
    if able.loaded and not any(size.holds(size_mm) for size in able.loaded):
        raise Fault(
            "printer-media",
            f"the printer has {in_a_row(able.loaded)} loaded, the labels are {wanted}",
            "Load that stock or choose another template.",
        )


def in_a_row(sizes: Sequence[Size]) -> str:
    """Some sizes in words."""
    most = 6
    return ", ".join(s.words() for s in sizes[:most]) + (" …" if len(sizes) > most else "")


# --- reading ---------------------------------------------------------------------------------


def _texts(said: Attributes, name: str) -> list[str]:
    return [value for value in said.get(name, ()) if isinstance(value, str)]


def _resolutions(said: Attributes, name: str) -> tuple[int, ...]:
    """Those that are the same both ways; labels are drawn in square dots."""
    found = {
        value.across
        for value in said.get(name, ())
        if isinstance(value, Resolution) and value.across == value.along > 0
    }
    return tuple(sorted(found))


def _sizes(said: Attributes, collections: str, names: str) -> tuple[Size, ...]:
    """Sizes as collections, or where a printer gives none, out of the names of its media."""
    found = [
        size
        for value in said.get(collections, ())
        if isinstance(value, Collection) and (size := _size(value)) is not None
    ]
    return tuple(dict.fromkeys(found or _named(_texts(said, names))))


def _size(value: Collection) -> Size | None:
    inner = next(iter(value.members.get("media-size", ())), value)
    if not isinstance(inner, Collection):
        return None
    across, along = (
        _span(next(iter(inner.members.get(f"{axis}-dimension", ())), None)) for axis in "xy"
    )
    return Size(across, along) if across and along else None


def _span(value: Value) -> tuple[float, float] | None:
    if isinstance(value, Range) and 0 < value.least <= value.most:
        return value.least / _HUNDREDTHS, value.most / _HUNDREDTHS
    if isinstance(value, int) and not isinstance(value, bool) and value > 0:
        return value / _HUNDREDTHS, value / _HUNDREDTHS
    return None


def _named(names: Sequence[str]) -> Iterator[Size]:
    """Sizes out of self-describing names, ``oe_2x2-label_2x2in``: PWG 5101.1, 5."""
    ends: dict[str, tuple[float, float]] = {}
    for name in names:
        sides = _sides(name)
        if sides is None:
            continue
        if name.startswith(("custom_min_", "custom_max_")):
            ends[name[7:10]] = sides
        else:
            yield Size((sides[0], sides[0]), (sides[1], sides[1]))
    if len(ends) == 2:  # noqa: PLR2004
        least, most = ends["min"], ends["max"]
        yield Size((least[0], most[0]), (least[1], most[1]))


def _sides(name: str) -> tuple[float, float] | None:
    size = name.rpartition("_")[2]
    scale = {"mm": 1.0, "in": 25.4}.get(size[-2:])
    across, cross, along = size[:-2].partition("x")
    if scale is None or not cross:
        return None
    try:
        sides = round(float(across) * scale, 2), round(float(along) * scale, 2)
    except ValueError:
        return None
    return sides if all(0 < side < 10_000 for side in sides) else None  # noqa: PLR2004
