"""The letters of a plot: in which fonts they are set, and the words above it and below."""

import os
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.core import files
from holdlog.reports.page_fonts import damaged
from holdlog.reports.wrapping import wrap

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

# Columns (a wide sign takes two) that fit 8 inches at 11, 8 and 7 points, with many capitals too.
_LARGE, _SMALL, _FOOT = 68, 94, 124
_MOST_LARGE = 2  # lines


@contextmanager
def lettered(fonts: Sequence[Path] = ()) -> Iterator[None]:
    """Draw within this: equal plots are equal files, and ``fonts`` are asked, in their order, for
    what matplotlib's font has no sign for. A font that cannot be used is passed over. Raises
    ``Mistake("bad-font")`` for one of which a letter turns out to be damaged.
    """
    import warnings  # noqa: PLC0415

    import matplotlib as mpl  # noqa: PLC0415

    # A fixed salt: equal plots are equal files. Text stays text in an SVG.
    families = [*mpl.rcParams["font.family"], *filter(None, map(_known, fonts))]
    style = {"svg.hashsalt": "holdlog", "svg.fonttype": "none", "font.family": families}
    with mpl.rc_context(style), warnings.catch_warnings():  # type: ignore[arg-type]
        # A sign that no font has is drawn as a box: no reason to speak into a cook's terminal.
        warnings.filterwarnings("ignore", message="Glyph")
        try:
            yield
        except RuntimeError as error:  # what matplotlib makes of each fault that FreeType finds
            if not fonts:
                raise
            raise damaged(fonts, error) from error


def _known(path: Path) -> str:
    """The name by which matplotlib knows this very file; empty where it cannot draw with it.

    It is a name of ours: two files may say the same name of themselves, and of those matplotlib
    would ask only one.
    """
    from matplotlib.font_manager import FontEntry, fontManager  # noqa: PLC0415
    from matplotlib.ft2font import FT2Font  # noqa: PLC0415

    try:
        with files.open_file(path) as file:
            found = os.fstat(file.fileno())
        name = f"{path}\n{found.st_mtime_ns}\n{found.st_size}"
        name = f"kitchen-{sha256(name.encode()).hexdigest()[:16]}"
        if any(each.name == name for each in fontManager.ttflist):
            return name
        if not FT2Font(str(path)).scalable:
            return ""  # dots of fixed sizes: no other size can be set
    except (OSError, RuntimeError, ValueError):
        return ""
    fontManager.ttflist.append(FontEntry(fname=str(path), name=name, size="scalable"))
    return name


def titled(axes: "Axes", title: str) -> None:
    """``title`` above the plot, all of it: a long one in more lines, and in smaller letters."""
    lines, size = wrap(title, _LARGE, cut=True), 11
    if len(lines) > _MOST_LARGE:
        lines, size = wrap(title, _SMALL, cut=True), 8
    axes.set_title("\n".join(lines), loc="left", fontsize=size, parse_math=False)


def footed(figure: "Figure", foot: str) -> None:
    """``foot`` in small print under the plot; empty: nothing."""
    if foot:
        lines = [each for line in foot.split("\n") for each in wrap(line, _FOOT, cut=True)]
        figure.supxlabel("\n".join(lines), fontsize=7, x=0.01, ha="left", parse_math=False)
