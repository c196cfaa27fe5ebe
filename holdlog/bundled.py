"""Finds the data folders: ``shared``, ``label_templates`` and ``migrations``.

In a checkout they lie beside the package; in a wheel, inside it. An editable install copies
them into site-packages as well, frozen on the day of the install. Nothing here can reach that
copy, since the package's own file is in the checkout: a corrected rulebook is read at once.
"""

from pathlib import Path

from holdlog.core.errors import Fault

_PACKAGE = Path(__file__).resolve().parent


def folder(name: str) -> Path:
    """The absolute path of the data folder ``name``.

    Beside an installed package lie other people's packages, and one of them may well be called
    ``shared``; so the folder beside ours counts only where ``pyproject.toml`` shows a checkout.

    Raises ``Fault`` if the folder is not there: the installation is damaged.
    """
    checkout = _PACKAGE.parent
    home = checkout if (checkout / "pyproject.toml").is_file() else _PACKAGE / "_bundled"
    path = home / name
    if not path.is_dir():
        raise Fault(
            "bundled-folder-missing",
            f"The folder {name} of holdlog is not at {path}.",
            "Install holdlog again.",
        )
    return path
