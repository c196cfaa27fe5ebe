"""A label template: a TOML file that says, in millimetres, where each thing stands.

Loading checks everything that can be known before there is a label: a template that loads
never lets text run into a barcode or a code fall off the paper.
"""

from dataclasses import replace
from functools import lru_cache
from pathlib import Path
from typing import Any

from holdlog.bundled import folder
from holdlog.core import files
from holdlog.core.errors import BadFile, Mistake
from holdlog.core.toml_table import loads
from holdlog.core.visible import quoted
from holdlog.core.whole_files import why
from holdlog.labels.fields import FLOOR_MM, Field, Template, symbol
from holdlog.labels.starter import starter
from holdlog.labels.template_check import CHECKED_DPI, check
from holdlog.labels.template_keys import LIKE, key_faults, read

__all__ = [
    "CHECKED_DPI", "FLOOR_MM", "Field", "Template", "find", "load", "names", "starter", "symbol",
]  # fmt: skip

_ENDING = ".toml"
_MOST_FAULTS = 100
_MOST_BYTES = 200_000  # ten times the largest that comes with the program


def names() -> tuple[str, ...]:
    """The templates that come with the program, by name, in the order of the alphabet."""
    return tuple(sorted(path.stem for path in folder("label_templates").glob(f"*{_ENDING}")))


def find(name_or_path: str) -> Template:
    """A template that comes with the program by its name, or your own by the path of its file.

    A name wins over a file of the same name in the folder you stand in: write ``./NAME.toml``.
    Raises ``Mistake("no-template")``, and what ``load`` raises.
    """
    if name_or_path in names():
        return _shipped(name_or_path)
    path = Path(name_or_path)
    if files.is_file(path):
        return load(path)
    raise Mistake(
        "no-template",
        f"There is no label template {quoted(name_or_path)}.",
        f"Choose one of {', '.join(names())}, or give the path of your own file.",
    )


@lru_cache(maxsize=64)
def _shipped(name: str) -> Template:
    return load(folder("label_templates") / f"{name}{_ENDING}")


def load(path: Path) -> Template:
    """Read and check the template in ``path``.

    A file may say only that it is ``like`` another, ``turned``; that other one is looked for
    beside it and then among those that come with the program.
    Raises ``BadFile("bad-template")`` with every fault found, each with file, table and key.
    """
    data = _toml(path)
    if "like" in data:
        return _turned(path, data)
    template, faults = read(path.stem, data)
    if template is not None:
        faults = check(template)
    if template is None or faults:
        raise _bad(path, faults)
    return template


def _turned(path: Path, data: dict[str, Any]) -> Template:
    faults = key_faults(data, LIKE)
    if faults:
        raise _bad(path, faults)
    name = data["like"]
    places = [home / f"{name}{_ENDING}" for home in (path.parent, folder("label_templates"))]
    other = next((place for place in places if files.is_file(place) and place != path), None)
    if other is None or "/" in name or "like" in _toml(other):
        raise _bad(path, [f"like: no template {name!r} with fields of its own"])
    whole = load(other)
    if whole.longest is not None and data.get("turned", False):
        raise _bad(path, ["turned: a label that grows along the feed cannot be turned"])
    return replace(
        whole, name=path.stem, title=data["title"], turned=data.get("turned", whole.turned)
    )


def _toml(path: Path) -> dict[str, Any]:
    try:
        return loads(files.read_text(path, _MOST_BYTES))
    except BadFile as error:
        raise BadFile("bad-template", error.faults, error.hint) from error
    except OSError as error:
        raise _unread(path, why(error, path)) from error
    except UnicodeDecodeError as error:
        raise _unread(path, "not a text in UTF-8") from error
    except ValueError as error:
        raise _unread(path, f"not valid TOML: {error}") from error


def _unread(path: Path, says: str) -> BadFile:
    return BadFile("bad-template", (f"{path}: cannot be read: {says}",))


def _bad(path: Path, faults: list[str]) -> BadFile:
    rest = len(faults) - _MOST_FAULTS
    more = (f"and {rest:,} faults more",) if rest > 0 else ()
    return BadFile(
        "bad-template",
        tuple(f"{path}: {fault}" for fault in (*faults[:_MOST_FAULTS], *more)),
        "Mend the file; the templates that come with the program show every key.",
    )
