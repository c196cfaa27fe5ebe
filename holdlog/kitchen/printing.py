"""Printing jobs: labels are made ready, rendered, sent in one go, and recorded.

The label comes first and the record after it, so that the journal never claims a label that was
not made; the batch itself was committed before, so that a failed print loses nothing. A print
that fails is written down as failed and dates nothing: the label on the tub goes on binding, and
the container waits for a label (``waiting``).
"""

from collections.abc import Callable, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from holdlog.core import events as ev
from holdlog.core.codes import show
from holdlog.core.errors import Fault, HoldlogError, Mistake
from holdlog.kitchen.kitchen import Kitchen
from holdlog.kitchen.label import Ready, ready, refuse_unfit
from holdlog.kitchen.label_files import name_of, remove, write_labels, write_pages
from holdlog.kitchen.printers import DPI, TEMPLATE, Device, Spoken, as_printer, spoken
from holdlog.kitchen.seen import a_moment_of_its_own
from holdlog.kitchen.tape import TAPE
from holdlog.labels import layout, press, printer, sheet, template
from holdlog.labels.geometry import MM_PER_INCH
from holdlog.labels.label import Label
from holdlog.labels.template import Template

if TYPE_CHECKING:
    from PIL import Image

Tell = Callable[[str], None]
# Somebody waits at the printer: every so many labels there is a word.
TELL_EVERY = 25


@dataclass(frozen=True, slots=True)
class Wanted:
    """What to print of each container: ``template`` empty, ``dpi`` 0: as the printer has it.

    ``twin``: a small second label beside each. ``tag``: a discard tag in place of the label.
    """

    template: str = ""
    dpi: int = 0
    twin: bool = False
    tag: bool = False


@dataclass(frozen=True, slots=True)
class Pages:
    """Sheets of labels: ``sheet`` by its name or file, and the first free place of the first."""

    sheet: str
    start: int = 1
    cut_marks: bool = False


@dataclass(frozen=True, slots=True)
class Printed:
    """Labels that were made, and how far they are known to have got.

    ``files`` of a folder or a sheet; ``printer`` empty for these. ``reason`` is what a printer
    said that did not say "printed": somebody has to look. ``doubted``: it should have said more.
    """

    labels: tuple[Ready, ...]
    files: tuple[Path, ...] = ()
    warnings: tuple[str, ...] = ()
    printer: str = ""
    state: ev.LabelState = "rendered"
    reason: str = ""
    doubted: bool = False

    @property
    def unseen(self) -> bool:
        """Nobody knows whether they came out."""
        return self.state in ("sent", "accepted")


@dataclass(frozen=True, slots=True)
class _Made:
    """What came of a job before it is recorded. ``silent``: the printer never says more."""

    files: tuple[Path, ...] = ()
    warnings: tuple[str, ...] = ()
    state: printer.State = "rendered"
    reason: str = ""
    silent: bool = False


def no_word(_: str) -> None:
    """Tells nobody."""


def print_labels(
    kitchen: Kitchen,
    by: str,
    codes: Sequence[str],
    into: Path,
    wanted: Wanted = Wanted(),
    *,
    tell: Tell = no_word,
    device: Device | None = None,
) -> Printed:
    """Make the labels of ``codes`` as PNG files and one PDF in ``into``, and record them.

    ``device``: the printer whose folder it is, if it is one. Raises ``Fault("no-label")`` when
    the folder cannot be written, ``Mistake("unfit")`` for food that is to be discarded,
    ``Fault("changed")`` when something happened to a container meanwhile: nothing is recorded.
    """
    name = device.name if device is not None else ""
    wanted = filled(wanted, device)
    form = template.find(wanted.template)

    def make(labels: Sequence[Ready], words: Spoken) -> _Made:
        images, warnings = _drawn(form, labels, wanted, words, tell)
        return _Made(write_labels(kitchen, labels, images, into, wanted.dpi), warnings)

    return _job(kitchen, by, codes, wanted, form, name, make)


def send_labels(
    kitchen: Kitchen,
    by: str,
    codes: Sequence[str],
    device: Device,
    wanted: Wanted = Wanted(),
    *,
    pause: Callable[[float], None],
    tell: Tell = no_word,
) -> Printed:
    """Print the labels of ``codes`` in one job, and record them.

    ``pause`` waits so many seconds. Raises as ``print_labels`` does, and
    ``Fault("not-printed")`` with the printer's own reason.
    """
    if device.route == "folder":
        return print_labels(
            kitchen, by, codes, Path(device.address), wanted, tell=tell, device=device
        )
    wanted = filled(wanted, device)
    form = template.find(wanted.template)
    machine = replace(as_printer(device), dpi=wanted.dpi, template=form.name)
    printer.check(machine)

    def make(labels: Sequence[Ready], words: Spoken) -> _Made:
        images, warnings = _drawn(form, labels, wanted, words, tell)
        pictures = [image for _, image in images]
        title = f"{kitchen.name}: {labels[0].label.item}"
        outcome = printer.send(
            machine, pictures, _stock(form, wanted.dpi, pictures), title, tell=tell, pause=pause
        )
        reason = outcome.reason
        if outcome.state == "failed" and outcome.printed:
            reason += f"; by its count {outcome.printed} of {len(pictures)} came out: bin those"
        return _Made((), warnings, outcome.state, reason, outcome.silent)

    with kitchen.writing(by):
        pass  # no label comes out that could not be recorded
    return _job(kitchen, by, codes, wanted, form, device.name, make)


def print_sheet(
    kitchen: Kitchen,
    by: str,
    codes: Sequence[str],
    into: Path,
    pages: Pages,
    wanted: Wanted = Wanted(),
    *,
    tell: Tell = no_word,
) -> Printed:
    """The labels of ``codes`` on sheets, as one PDF in ``into``. Raises as ``print_labels`` does;
    ``Mistake`` for a sheet, a place or a template that does not fit.
    """
    paper = sheet.find(pages.sheet)
    form = form_for(paper, wanted.template)
    wanted = replace(wanted, template=form.name, dpi=sheet.DPI)

    def make(labels: Sequence[Ready], words: Spoken) -> _Made:
        laid = [
            layout.lay_out(form, sheet.DPI, label, words.words, words.fonts)
            for each in labels
            for label in _each(each, wanted)
        ]
        warnings = _warnings(labels, [each.warnings for each in laid], wanted)
        content = sheet.sheet_pdf(
            paper, laid, start=pages.start, cut_marks=pages.cut_marks,
            tell=lambda done, all_: tell(f"page {done} of {all_}") if all_ > 1 else None,
        )  # fmt: skip
        return _Made(write_pages(kitchen, labels, content, into, paper.name), warnings)

    return _job(kitchen, by, codes, wanted, form, "", make)


def form_for(paper: sheet.Sheet, name: str) -> Template:
    """The template as named; else the usual one, or the largest that has room on the sheet."""
    usual = template.find(name or TEMPLATE)
    if name or sheet.fits(paper, usual):
        return usual
    known = [template.find(each) for each in template.names()]
    fits = [each for each in known if sheet.fits(paper, each) and not each.turned]
    return max(fits, key=lambda each: each.width * each.height, default=usual)


def filled(wanted: Wanted, device: Device | None) -> Wanted:
    """``wanted`` with what the printer has in place of what was left open."""
    usual = device.template if device is not None else TEMPLATE
    dpi = device.dpi if device is not None else DPI
    return replace(wanted, template=wanted.template or usual, dpi=wanted.dpi or dpi)


def _each(each: Ready, wanted: Wanted) -> tuple[Label, ...]:
    return (each.label, replace(each.label, twin=True)) if wanted.twin else (each.label,)


def _drawn(
    form: Template, labels: Sequence[Ready], wanted: Wanted, words: Spoken, tell: Tell
) -> "tuple[list[tuple[str, Image.Image]], tuple[str, ...]]":
    """The pictures, each with a name for its file, and what the cook is told of them."""
    images: list[tuple[str, Image.Image]] = []
    warned: list[tuple[str, ...]] = []
    for number, each in enumerate(labels, 1):
        for label in _each(each, wanted):
            rendered = press.render(form, wanted.dpi, label, words.words, words.fonts)
            images.append((name_of(each) + ("-twin" if label.twin else ""), rendered.image))
            warned.append(rendered.warnings)
        if number % TELL_EVERY == 0 and number < len(labels):
            tell(f"{number} of {len(labels)} labels are drawn")
    return images, _warnings(labels, warned, wanted)


def _stock(form: Template, dpi: int, pictures: "Sequence[Image.Image]") -> tuple[float, float]:
    """Across and along the feed in mm; of continuous stock, as long as the longest label."""
    across, along = form.stock
    if form.longest is None:
        return across, along
    return across, max(picture.height for picture in pictures) * MM_PER_INCH / dpi


def _warnings(
    labels: Sequence[Ready], warned: Sequence[Sequence[str]], wanted: Wanted
) -> tuple[str, ...]:
    codes = [show(each.label.code) for each in labels for _ in _each(each, wanted)]
    said = (f"{code}: {text}" for code, texts in zip(codes, warned, strict=True) for text in texts)
    return tuple(dict.fromkeys(said))


def _job(
    kitchen: Kitchen,
    by: str,
    codes: Sequence[str],
    wanted: Wanted,
    form: Template,
    printer_name: str,
    make: Callable[[Sequence[Ready], Spoken], _Made],
) -> Printed:
    """Make ready, make, record. What goes wrong in between is written down as failed, save a
    mistake: of that nothing is written.
    """
    labels = look_at(kitchen, codes, tag=wanted.tag)
    with kitchen.db.reading() as conn:
        words = spoken(kitchen, conn)
    for each in labels:
        refuse_unfit(each)
    made = _Made()
    try:
        made = make(labels, words)
        state = _how_far(made, labels, printer_name)
        # Of a printer that reports, no word is a bad sign: somebody has to look.
        doubted = state == "accepted" or (state == "sent" and not made.silent)
        kept = "accepted" if doubted else state
        record(kitchen, by, labels, form.name, printer_name, kept, tag=wanted.tag)
    except BaseException as error:
        remove(made.files)
        if isinstance(error, Mistake):
            raise
        reason = made.reason if made.state == "failed" else _reason(error)
        with suppress(HoldlogError):
            note_failure(kitchen, by, labels, form.name, printer_name, reason)
        raise
    return Printed(labels, made.files, made.warnings, printer_name, state, made.reason, doubted)


def _reason(error: BaseException) -> str:
    if isinstance(error, HoldlogError):
        return error.sentence
    return "it was stopped" if isinstance(error, KeyboardInterrupt) else f"{error}"


def _how_far(made: _Made, labels: Sequence[Ready], name: str) -> ev.LabelState:
    if made.state != "failed":
        return made.state
    again = f"holdlog label {show(labels[0].label.code)}" if not labels[1:] else (
        "holdlog label --waiting"
    )  # fmt: skip
    raise Fault(
        "not-printed",
        f"{name} did not print: {made.reason or 'it does not say why'}",
        f"Then: {again}",
    )


def record(
    kitchen: Kitchen,
    by: str,
    labels: Sequence[Ready],
    form: str,
    printer_name: str = "",
    state: ev.LabelState = "rendered",
    *,
    tag: bool = False,
) -> None:
    """Write down labels that were made. Raises ``Fault("changed")`` where one says something
    else by now: what was printed is worthless then.
    """
    with kitchen.writing(by) as write:
        a_moment_of_its_own(write)
        for each in labels:
            again = ready(write.kitchen, write.conn, each.label.code, tag=tag)
            if (_lasting(again), again.use_by) != (_lasting(each), each.use_by):
                worthless = f" Bin what {printer_name} printed." if printer_name else ""
                raise Fault(
                    "changed",
                    f"Something happened to {show(each.label.code)} while its label was made."
                    + worthless,
                    "Make it again: holdlog label " + show(each.label.code),
                )
        write.append(
            *(
                (
                    ev.Labelled(
                        template=form,
                        purpose=each.label.purpose,
                        use_by=each.said_use_by,
                        days_left=each.said_days_left,
                        copy=each.copies_before,
                        printer=printer_name,
                        state=state,
                    ),
                    write.recorded_at,
                    each.label.code,
                )
                for each in labels
            )
        )
        write.settle(*(each.label.code for each in labels))


def _lasting(each: Ready) -> Label:
    """What a label says, without what runs with the clock or with the journal."""
    held = "held" if each.label.held else ""
    return replace(each.label, discarded=None, reason="", held=held, journal_head="")


def note_failure(
    kitchen: Kitchen, by: str, labels: Sequence[Ready], form: str, printer_name: str, reason: str
) -> None:
    """Write down that labels were wanted and did not come out. It moves no date."""
    with kitchen.writing(by) as write:
        write.append(
            *(
                (
                    ev.PrintFailed(form, each.label.purpose, printer_name, reason),
                    write.recorded_at,
                    each.label.code,
                )
                for each in labels
            )
        )
        write.settle(*(each.label.code for each in labels))


def write_by_hand(
    kitchen: Kitchen, by: str, codes: Sequence[str], *, tag: bool = False
) -> tuple[Ready, ...]:
    """The labels of ``codes`` for a cook to write on tape. They are recorded like any other: a
    date on tape binds as a printed one does.
    """
    labels = look_at(kitchen, codes, tag=tag)
    for each in labels:
        refuse_unfit(each)
    record(kitchen, by, labels, TAPE, tag=tag)
    return labels


def look_at(kitchen: Kitchen, codes: Sequence[str], *, tag: bool = False) -> tuple[Ready, ...]:
    """What the labels of ``codes`` say. Nothing is made and nothing recorded."""
    with kitchen.db.reading() as conn:
        return tuple(ready(kitchen, conn, code, tag=tag) for code in codes)
