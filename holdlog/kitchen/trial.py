"""Trying a printer out: how it stands, and one test label. Nothing of it is recorded."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from holdlog.core.codes import new_code, show
from holdlog.core.errors import Fault
from holdlog.journal import on_hand
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.printers import Device, as_printer, spoken
from holdlog.kitchen.samples import sample
from holdlog.labels import press, printer, template
from holdlog.labels.output import png_bytes
from holdlog.labels.printer import Condition, Outcome


@dataclass(frozen=True, slots=True)
class Tried:
    """How a printer stands, and what became of its test label (None: none was sent)."""

    condition: Condition
    outcome: Outcome | None = None
    file: Path | None = None
    warnings: tuple[str, ...] = ()


def try_out(
    kitchen: Kitchen,
    device: Device,
    now: datetime,
    draw: Callable[[str], str],
    pause: Callable[[float], None],
    tell: Callable[[str], None],
    *,
    with_label: bool = True,
) -> Tried:
    """Ask ``device`` how it stands, and print a test label on it if it can be reached.

    ``now`` is local wall-clock time. The label has a code of its own that no container bears.
    """
    machine = as_printer(device)
    form = template.find(device.template)
    condition = printer.ask(machine)
    # A folder is made when the first label is written.
    reached = condition.reachable or device.route == "folder"
    condition = replace(condition, reachable=reached)
    if not (with_label and reached):
        return Tried(condition)
    with kitchen.db.reading() as conn:
        words = spoken(kitchen, conn)
        code = new_code(draw)
        while on_hand.code_taken(conn, kitchen.site, code):
            code = new_code(draw)
    label = replace(
        sample("prepared"), item="TEST, not food", code=code, number=1, count=1, started=now,
        use_by=now.date(), amount="", by="", unit=device.name, keep_at="", allergens=(),
        cautions=("bin this label",),
    )  # fmt: skip
    drawn = press.render(form, device.dpi, label, words.words, words.fonts)
    if device.route == "folder":
        file = _write(Path(device.address), show(code), png_bytes(drawn.image, device.dpi))
        return Tried(condition, Outcome("rendered"), file, drawn.warnings)
    outcome = printer.send(
        machine, [drawn.image], form.stock, f"{kitchen.name}: test", tell=tell, pause=pause
    )
    return Tried(condition, outcome, None, drawn.warnings)


def _write(folder: Path, code: str, content: bytes) -> Path:
    file = folder / f"test-{code}.png"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
    except OSError as error:
        raise Fault(
            "no-label",
            f"The test label could not be written to {folder}: {error.strerror or error}.",
            "Look at the folder, or add the printer anew with another one.",
        ) from error
    return file
