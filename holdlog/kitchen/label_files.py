"""Labels as files: a PNG each and one PDF for all, in a folder of the day.

Each is there whole or not at all, and the label of another moment is never overwritten.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.core.codes import show
from holdlog.core.errors import Fault
from holdlog.core.moments import local_date
from holdlog.core.whole_files import why, write_free
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.label import Ready
from holdlog.labels.output import pdf_bytes, png_bytes

if TYPE_CHECKING:
    from PIL import Image


def write_labels(
    kitchen: Kitchen,
    labels: Sequence[Ready],
    images: "Sequence[tuple[str, Image.Image]]",
    into: Path,
    dpi: int,
) -> tuple[Path, ...]:
    """Write ``images``, each under its name, and one PDF of all, which comes last.

    Raises ``Fault("no-label")`` where they cannot all be written; none is left then.
    """
    with _day_folder(kitchen, labels, into) as (target, written):
        for name, image in images:
            written.append(write_free(target, name, ".png", png_bytes(image, dpi)))
        pages = pdf_bytes([image for _, image in images], dpi)
        written.append(write_free(target, name_of_all(labels), ".pdf", pages))
    return tuple(written)


def write_pages(
    kitchen: Kitchen, labels: Sequence[Ready], pages: bytes, into: Path, sheet: str
) -> tuple[Path, ...]:
    """Write a PDF of label sheets. Raises as ``write_labels`` does."""
    with _day_folder(kitchen, labels, into) as (target, written):
        written.append(write_free(target, f"{name_of_all(labels)}-{sheet}", ".pdf", pages))
    return tuple(written)


def name_of(each: Ready) -> str:
    """The name of a label's file, without its ending."""
    copy = f"-copy{each.copies_before}" if each.copies_before else ""
    return f"{each.label.code}-{each.label.purpose}{copy}"


def name_of_all(labels: Sequence[Ready]) -> str:
    """The name of a file that holds all of ``labels``."""
    return name_of(labels[0]) + (f"-and-{len(labels) - 1}-more" if labels[1:] else "")


@contextmanager
def _day_folder(
    kitchen: Kitchen, labels: Sequence[Ready], into: Path
) -> Iterator[tuple[Path, list[Path]]]:
    """The folder of today, and a list of what is written there: all of it, or nothing."""
    target = into / local_date(kitchen.now(), kitchen.where).isoformat()
    written: list[Path] = []
    try:
        target.mkdir(parents=True, exist_ok=True)
        yield target, written
    except OSError as error:
        remove(written)
        raise Fault(
            "no-label",
            f"The labels could not be written to {target}: {why(error, target)}.",
            f"Make them again with: holdlog label {show(labels[0].label.code)} --to FOLDER",
        ) from error
    except BaseException:
        remove(written)
        raise


def remove(files: Sequence[Path]) -> None:
    """Take back files that no label stands for."""
    for file in files:
        file.unlink(missing_ok=True)
