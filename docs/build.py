"""Writes docs/rules from the rulebooks and the worked examples: `make docs`.

Another folder may be named: `python docs/build.py FOLDER`.
"""

import sys
from pathlib import Path

from holdlog.kitchen.rule_pages import rule_pages

HERE = Path(__file__).resolve().parent / "rules"


def write_pages(folder: Path) -> None:
    """Write every page, and take away the page of a kind that is no more."""
    pages = rule_pages()
    folder.mkdir(exist_ok=True)
    for old in folder.glob("*.md"):
        if old.name not in pages:
            old.unlink()
    for name, text in pages.items():
        (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    write_pages(Path(sys.argv[1]) if sys.argv[1:] else HERE)
