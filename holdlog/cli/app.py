"""The commands, put together. A command's module is loaded when the command is run, not before."""

import inspect
from importlib import import_module
from typing import Annotated, Any

import typer
from typer.core import TyperGroup

from holdlog import __version__

# Every command: its name, where it is ("module:function") and what it is for, in the order of a
# kitchen's day. The list is what `holdlog --help` shows, so that help loads no command.
SECTIONS: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...] = (
    ("Setting up", (
        ("setup", "setup:setup", "Set up a kitchen: zone, units, rulebook."),
        ("adopt", "setup:adopt", "Change the rules: rulebook, house file, ruling."),
        ("unit add", "setup:unit_add", "Add a walk-in, a freezer, a hot box."),
        ("unit list", "units:unit_list", "The units: limit and last reading."),
        ("item add", "items:item_add", "Add what the kitchen makes or opens."),
        ("item list", "items:item_list", "Show the items, or find one."),
        ("import items", "importing:import_items", "Read items in from a file."),
        ("import inventory", "importing:import_inventory", "Read in what is there already."),
        ("probe add", "probes:add", "Add a thermometer."),
        ("probe check", "probes:check", "Check one in ice, or in boiling water."),
        ("probe list", "probes:list_", "The thermometers, and which are in doubt."),
    )),
    ("Making", (
        ("prep", "make:prep", "Record a batch and make its labels."),
        ("receive", "make:receive", "Record a maker's unopened containers."),
        ("open", "make:open_", "Open a maker's container: day 1."),
        ("combine", "make:combine", "Make a batch from labelled containers."),
    )),
    ("Handling", (
        ("cool", "cooling:cool", "What is cooling; log a reading or a move."),
        ("read", "handle:read", "Log a temperature where food is held."),
        ("freeze", "handle:freeze", "Freeze a container; its days pause."),
        ("thaw", "handle:thaw", "Take a container out of the freezer."),
        ("move", "handle:move", "Move a container to another unit."),
        ("reheat", "handle:reheat", "Record a reheating; its days run on."),
        ("out", "handle:out", "Take food out of temperature control."),
        ("pack", "pack:pack", "Pack with the oxygen reduced."),
        ("split", "handle:split", "Split a container, or pan it down."),
        ("top-up", "handle:top_up", "Pour one tub into another."),
        ("use", "discards:use", "Used, sold, staff meal, donated, returned."),
    )),
    ("Units", (
        ("unit show", "units:unit_show", "One unit: limit, readings, what is in it."),
        ("unit read", "units:unit_read", "Log what a unit reads; hold what it warmed."),
        ("unit import", "loggers:import_", "Read in the file of a unit's logger."),
        ("unit excursions", "unit_past:excursions", "When it was beyond its limit, and what then."),
        ("unit plot", "unit_past:plot", "Plot a unit's readings."),
        ("settle", "settling:settle", "Keep food on hold (person in charge)."),
    )),
    ("Looking", (
        ("due", "check:due", "What must go now, today and tomorrow."),
        ("on-hand", "check:on_hand", "Everything in the kitchen now."),
        ("ahead", "ahead:ahead", "The days to come: last days, freezing, pulling."),
        ("why", "check:why", "Why a container has its date."),
        ("trace", "trace:trace", "What it was made of, and what of it."),
        ("recall", "trace:recall", "Hold everything that contains it."),
    )),
    ("The round", (
        ("round", "round:round_", "Walk the units, scan by scan."),
        ("round sheet", "round_sheet:sheet", "The round on paper; enter what was ticked."),
        ("round list", "round:list_", "The rounds there were, and which are open."),
        ("round show", "round:show", "What a round came to."),
    )),
    ("Labels and printers", (
        ("label", "labels:label", "Make labels again; list what waits for one."),
        ("label-words", "labels:label_words", "The languages of the labels."),
        ("printer add", "printers:add", "Add a label printer."),
        ("printer list", "printers:list_", "Show the printers, and where labels go."),
        ("printer test", "printers:try_", "Ask a printer how it is; print a test label."),
        ("printer remove", "printers:remove", "Remove a printer."),
        ("template list", "templates:list_", "The label templates there are."),
        ("template show", "templates:show", "What a template looks like."),
        ("template check", "templates:check", "Find every fault of a template."),
        ("template new", "templates:new", "Write a template of any size to begin with."),
        ("sheet list", "templates:sheet_list", "The sheets of labels there are."),
        ("sheet ruler", "templates:ruler", "A page to see whether a printer prints true."),
    )),
    ("The bin", (
        ("discard", "discards:discard", "Record that a container was binned."),
        ("audit", "audit:audit", "What was binned, by reason, item, cook."),
        ("inspector-file", "inspector_file:inspector_file", "One PDF for the inspector."),
        ("make-less", "make_less:make_less", "How large a batch your history asks for."),
    )),
    ("Keeping the journal", (
        ("correct", "keep:correct", "Correct a batch that was typed wrong."),
        ("void", "keep:void", "Take an entry back; it stays readable."),
        ("confirm", "keep:confirm", "Confirm a late entry (person in charge)."),
        ("clock", "clock:clock", "The clock beside the journal; is it right?"),
        ("doctor", "keep:doctor", "Check that the journal is whole."),
        ("backup", "backups:backup", "Back up the journal while it is in use."),
        ("backup list", "backups:list_", "The backups, and whether they are whole."),
        ("restore", "restoring:restore", "Go back to a backup."),
        ("register", "registers:register", "Any register as CSV or JSON."),
        ("export", "exporting:export", "The whole journal as a file to check."),
        ("verify", "exporting:verify", "Check an exported journal by its hashes."),
        ("db upgrade", "keep:upgrade", "Bring an older journal up to date."),
        ("db move", "restoring:move", "Move it to another file, or to PostgreSQL."),
    )),
    ("The rules", (
        ("rulebook list", "rulebooks:list_", "The rulebooks there are, and how each was seen."),
        ("rulebook show", "rulebooks:show", "One rulebook: its rules, figures and sections."),
        ("rulebook compare", "rulebooks:compare", "What changes for me? Two stacks side by side."),
        ("rulebook check", "rulebooks:check", "Find every fault of a rulebook or house file."),
        ("rulebook house", "rulebooks:house", "Write a house file to begin with."),
    )),
    ("Trying out", (
        ("whatif", "whatif:whatif", "Work out dates without recording."),
        ("demo", "demo:demo", "Play three days of an invented kitchen."),
    )),
)  # fmt: skip
PLACES = {name: place for _, commands in SECTIONS for name, place, _ in commands}
# A command of two words belongs to one of these.
GROUPS = {
    "unit": "Places with a temperature.",
    "item": "What the kitchen makes or opens.",
    "import": "Files read in: all rows, or none.",
    "probe": "Thermometers: whether they are right, and what a bad one shakes.",
    "printer": "Label printers, and which one labels go to.",
    "template": "What stands where on a label.",
    "sheet": "Labels on sheets of paper.",
    "rulebook": "Whose rules there are, and what they say.",
    "db": "The journal's database.",
}
METAVARS = {
    "StringParamType": "TEXT",
    "IntParamType": "NUMBER",
    "IntRange": "NUMBER",
    "FloatParamType": "NUMBER",
}
_PLAIN: Any = {
    "rich_markup_mode": None,
    "pretty_exceptions_enable": False,
    "add_completion": False,
}


class Commands(TyperGroup):
    """A group whose commands are loaded one at a time. ``word`` is its own name, if any."""

    word = ""

    def list_commands(self, ctx: Any) -> list[str]:  # noqa: ARG002  (the parser's own form)
        """The names under this group."""
        return [name for name, _, _ in _under(self.word)]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:  # noqa: ARG002
        """The command ``cmd_name``, loaded now; None where there is none."""
        if not self.word and cmd_name in GROUPS:
            return _group(cmd_name)
        place = PLACES.get(f"{self.word} {cmd_name}".strip())
        if place is not None and not self.word and _under(cmd_name):
            return _group(cmd_name, _job(place))
        return _command(cmd_name, place) if place is not None else None

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """As ever; a word that is no command is told with the nearest ones."""
        if not args[0].startswith("-") and self.get_command(ctx, args[0]) is None:
            from difflib import get_close_matches

            known = [*self.list_commands(ctx), *(() if self.word else GROUPS)]
            close = get_close_matches(args[0], known, n=2)
            meant = f" Did you mean {' or '.join(close)}?" if close else ""
            ctx.fail(f"There is no command {' '.join([self.word, args[0]]).strip()!r}.{meant}")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:  # noqa: ARG002
        """The commands, under their headings."""
        wide = max(len(name) for name in PLACES)
        for title, commands in SECTIONS:
            rows = [
                (name.ljust(wide), says)
                for name, _, says in commands
                if not self.word or name.startswith(self.word + " ")
            ]
            if rows:
                with formatter.section(title):
                    formatter.write_dl(rows)


def _under(word: str) -> list[tuple[str, str, str]]:
    start = f"{word} " if word else ""
    return [
        (name[len(start) :], place, says)
        for _, commands in SECTIONS
        for name, place, says in commands
        if name.startswith(start)
    ]


def _job(place: str) -> Any:
    module, _, function = place.partition(":")
    return getattr(import_module(f"holdlog.cli.{module}"), function)


def _help(job: Any) -> str:
    # Docstrings write the mark that keeps examples unwrapped as \b; the parser wants the sign.
    return inspect.cleandoc(job.__doc__ or "").replace("\\b\n", "\b\n")


def _command(name: str, place: str) -> Any:
    job = _job(place)
    alone = typer.Typer(**_PLAIN)
    alone.command(name=name, help=_help(job))(job)
    return _plain_options(typer.main.get_command(alone))


def _plain_options(command: Any) -> Any:
    for option in command.params:
        # "--made TEXT" reads better than "--made <str>".
        option.metavar = option.metavar or METAVARS.get(type(option.type).__name__)
    return command


def _group(word: str, job: Any = None) -> Any:
    """The commands that begin with ``word``; ``job`` is what the word does by itself, if it is a
    command, too.
    """
    says = GROUPS[word] if job is None else _help(job)
    shelf = typer.Typer(name=word, cls=Commands, help=says, invoke_without_command=True, **_PLAIN)
    shelf.callback()(job or _or_help)
    group: Any = typer.main.get_command(shelf)
    group.word = word
    return _plain_options(group)


def _or_help(context: typer.Context) -> None:
    if context.invoked_subcommand is None:
        typer.echo(context.get_help())


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"holdlog {__version__}")
        raise typer.Exit


def everywhere(
    context: typer.Context,
    db: Annotated[
        str,
        typer.Option(
            "--db",
            envvar="HOLDLOG_DB",
            show_default=False,
            metavar="FILE",
            help="The journal: a file, or postgresql://user@host/name.",
        ),
    ] = "",
    site: Annotated[
        str,
        typer.Option(
            "--site",
            envvar="HOLDLOG_SITE",
            show_default=False,
            metavar="NAME",
            help="Which kitchen, where several share a journal.",
        ),
    ] = "",
    _version: Annotated[
        bool,
        typer.Option("--version", help="Show the version.", callback=_show_version, is_eager=True),
    ] = False,
) -> None:
    """What holds for all commands."""
    context.obj = {"db": db, "site": site}
    _or_help(context)


def program() -> Any:
    """The command to run, its commands still on the shelf."""
    app = typer.Typer(
        name="holdlog",
        cls=Commands,
        help="The holding and shelf-life log of a kitchen: labels at the end of prep, the "
        "morning check of the walk-in, the audit of what was discarded.\n\n"
        "It works out dates by the rulebook your kitchen adopted. It is no authority: your local "
        "health authority has the last word. When in doubt, throw it out.\n\n"
        "\b\n"
        "A day:\n"
        '  holdlog prep "chicken stock" 6l -c 3\n'
        "  holdlog due\n"
        "  holdlog why H7K3-9QX2\n"
        "  holdlog discard H7K3-9QX2 --reason date\n"
        "  holdlog audit",
        epilog="Each command explains itself: holdlog prep --help",
        invoke_without_command=True,
        **_PLAIN,
    )
    app.callback()(everywhere)
    return typer.main.get_command(app)
