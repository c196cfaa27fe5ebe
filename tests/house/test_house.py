"""The rules of the house, which no reader should have to check by eye."""

import ast
import re
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from tests.system import need

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "holdlog"
ROOMS = {"core", "rules", "journal", "labels", "reports", "kitchen", "cli"}
DOORS = {"cli", "web"}
MODULES = sorted(PACKAGE.rglob("*.py"))
BELOW_THE_DOORS = [path for path in MODULES if not DOORS & set(path.relative_to(PACKAGE).parts)]


def _named(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


@cache
def _tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"), filename=str(path))


def _imported(path: Path) -> Iterator[str]:
    """The full name of every module that ``path`` imports, anywhere in it."""
    for node in ast.walk(_tree(path)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


# --- layout ----------------------------------------------------------------------------------


def test_every_room_is_there_and_no_other() -> None:
    rooms = {path.parent.name for path in PACKAGE.glob("*/__init__.py")}
    assert rooms - {"web"} == ROOMS


def test_only_the_front_matter_lies_beside_the_rooms() -> None:
    assert {path.name for path in PACKAGE.glob("*.py")} == {
        "__init__.py",
        "__main__.py",
        "bundled.py",
    }


def test_the_import_order_holds() -> None:
    program = "from importlinter.cli import lint_imports_command as lint; lint(['--no-cache'])"
    finished = subprocess.run(
        [sys.executable, "-c", program], cwd=ROOT, capture_output=True, text=True, check=False
    )
    assert finished.returncode == 0, finished.stdout + finished.stderr


@pytest.mark.parametrize("path", MODULES, ids=_named)
def test_a_module_is_short_and_says_what_it_knows(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    lines = text.count("\n")
    # The list of facts stays one file, however long: an inspector should be able to read it.
    most = 900 if _named(path) == "holdlog/core/events.py" else 400
    assert lines <= most, f"{_named(path)} has {lines} lines: which two things is it?"
    assert ast.get_docstring(_tree(path)), f"{_named(path)} has no docstring"


@pytest.mark.parametrize("path", MODULES, ids=_named)
def test_a_module_is_named_for_what_it_knows(path: Path) -> None:
    vague = {"util", "utils", "helper", "helpers", "manager", "managers", "misc", "common"}
    words = set(re.split(r"[_/.]", path.relative_to(PACKAGE).as_posix()))
    assert not words & vague


def test_migrations_never_import_the_program() -> None:
    """A migration describes the tables of its own day; the program's tables move on."""
    scripts = sorted((ROOT / "migrations" / "versions").glob("*.py"))
    assert scripts
    guilty = [
        _named(path)
        for path in scripts
        if any(name.split(".")[0] == "holdlog" for name in _imported(path))
    ]
    assert guilty == []


# --- what may be touched where ---------------------------------------------------------------


def test_one_module_owns_the_database_driver() -> None:
    """Two SQLite libraries in one process can break each other's file locks."""
    drivers = {"sqlite3", "_sqlite3", "pysqlite3", "apsw", "aiosqlite"}
    owners = {
        path.relative_to(PACKAGE)
        for path in MODULES
        if any(name.split(".")[0] in drivers for name in _imported(path))
    }
    assert len(owners) <= 1, owners
    assert all(owner.parts[0] == "journal" for owner in owners), owners


def test_only_the_doors_speak() -> None:
    guilty = [
        f"{_named(path)}:{node.lineno}"
        for path in BELOW_THE_DOORS
        for node in ast.walk(_tree(path))
        if isinstance(node, ast.Call)
        and (
            (isinstance(node.func, ast.Name) and node.func.id in {"print", "input"})
            or re.match(r"sys\.std(out|err|in)\b", ast.unparse(node.func))
        )
    ]
    assert guilty == []


CLOCKS = re.compile(
    r"""(^|\.)(datetime|date|dt)\.(now|utcnow|today)$
      | ^(time\.)(time|time_ns|monotonic|localtime|gmtime|ctime)$
      | ^func\.(now|current_timestamp|current_date)$""",
    re.VERBOSE,
)


def _reads_a_clock(node: ast.AST) -> bool:
    if isinstance(node, ast.ImportFrom) and node.module == "time":
        return True
    if isinstance(node, ast.Attribute):
        return CLOCKS.search(ast.unparse(node)) is not None
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute):
        # Without a zone these answer in the zone of the machine, not of the kitchen.
        zoneless = not node.args and not node.keywords
        return node.func.attr == "astimezone" and zoneless
    return False


@pytest.mark.parametrize(
    ("line", "guilty"),
    [
        ("datetime.now(UTC)", True),
        ("datetime.datetime.now()", True),
        ("date.today()", True),
        ("time.time()", True),
        ("clock = datetime.now", True),
        ("from time import monotonic", True),
        ("moment.astimezone()", True),
        ("moment.astimezone(zone)", False),
        ("kitchen.clock.now()", False),
        ("datetime.combine(day, noon, zone)", False),
    ],
)
def test_reading_a_clock_is_recognised(line: str, guilty: bool) -> None:
    assert any(_reads_a_clock(node) for node in ast.walk(ast.parse(line))) is guilty


def test_no_clock_is_read_below_the_doors() -> None:
    guilty = [
        f"{_named(path)}:{getattr(node, 'lineno', 0)}"
        for path in BELOW_THE_DOORS
        for node in ast.walk(_tree(path))
        if _reads_a_clock(node)
    ]
    assert guilty == []


# --- quick starts ----------------------------------------------------------------------------

HEAVY = {"sqlalchemy", "alembic", "PIL", "barcode", "segno", "rich", "sqlite3", "psycopg"}


def _loaded_by(*arguments: str) -> set[str]:
    """The modules that one run of ``holdlog`` with ``arguments`` has loaded by its end."""
    program = (
        "import atexit, sys\n"
        "atexit.register(lambda: print('\\n'.join(['', *sys.modules]), file=sys.stderr))\n"
        "from holdlog.cli import main\n"
        "main()\n"
    )
    finished = subprocess.run(
        [sys.executable, "-c", program, *arguments],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        check=False,
    )
    assert finished.returncode == 0, finished.stdout + finished.stderr
    return set(finished.stderr.split())


def _heavy(loaded: set[str], also: set[str]) -> set[str]:
    return {name for name in HEAVY | also if name in loaded}


def test_help_loads_nothing_heavy() -> None:
    loaded = _loaded_by("--help")
    assert "holdlog.cli" in loaded
    rooms = {f"holdlog.{room}" for room in ROOMS - {"cli", "core"}}
    assert _heavy(loaded, rooms | {"zoneinfo", "tomllib"}) == set()


def test_whatif_loads_no_database_and_no_picture() -> None:
    examples = sorted((ROOT / "shared" / "worked_examples").glob("*.toml"))
    assert examples
    loaded = _loaded_by("whatif", str(examples[0]))
    assert "holdlog.rules" in loaded
    strangers = {"holdlog.journal", "holdlog.labels", "holdlog.reports.tables"}
    assert _heavy(loaded, strangers) == set()


# --- what is committed -----------------------------------------------------------------------


def _files() -> list[Path]:
    """What is, or by the next commit would be, in the repository."""
    listed = subprocess.run(
        [need("git"), "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
    )
    paths = [ROOT / name for name in listed.stdout.split("\0") if name]
    return [path for path in paths if path.is_file() and path != Path(__file__)]


@pytest.mark.system
def test_no_file_names_a_folder_of_this_machine_or_a_package_index() -> None:
    telling = re.compile(
        rb"""(?<![\w.~-])/(root|work|opt)/
          | \bpypi\.org | pythonhosted | registry\.npmjs | deb\.debian\.org
          | (?<!emit-)\bindex-url | --find-links""",
        re.VERBOSE,
    )
    files = _files()
    assert ROOT / "pyproject.toml" in files
    guilty = [
        f"{_named(path)}: {found.group().decode()}"
        for path in files
        if (found := telling.search(path.read_bytes()))
    ]
    assert guilty == []


def test_the_pinned_set_meets_what_the_project_asks_for() -> None:
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
    pinned = dict(
        re.findall(
            r"^([\w.-]+)==([\w.]+)",
            (ROOT / "requirements" / "dev.txt").read_text(encoding="utf-8"),
            re.MULTILINE,
        )
    )
    wanted = [
        Requirement(line)
        for line in [
            *project["build-system"]["requires"],
            *project["project"]["dependencies"],
            *project["project"]["optional-dependencies"]["dev"],
        ]
    ]
    unmet = [
        str(wish)
        for wish in wanted
        if (pin := pinned.get(canonicalize_name(wish.name))) is None or pin not in wish.specifier
    ]
    assert unmet == []


def test_every_pin_has_its_hash() -> None:
    text = (ROOT / "requirements" / "dev.txt").read_text(encoding="utf-8")
    lines = [line for line in text.replace("\\\n", "").splitlines() if not line.startswith("#")]
    assert lines
    assert [line for line in lines if "--hash=sha256:" not in line] == []


# Which Debian package brings a program that a test may ask for.
BRINGS = {
    "cupsd": "cups",
    "cupsdisable": "cups-client",
    "cupsreject": "cups-client",
    "dbus-daemon": "dbus-daemon",
    "faketime": "faketime",
    "git": "git",
    "ippeveprinter": "cups-ipp-utils",
    "lp": "cups-client",
    "lpadmin": "cups-client",
    "lpoptions": "cups-client",
    "mkfs.ext4": "e2fsprogs",
    "node": "nodejs",
    "openssl": "openssl",
    "postgres": "postgresql",
    "strace": "strace",
    "tesseract": "tesseract-ocr",
    "zbarimg": "zbar-tools",
}


def test_ci_installs_exactly_the_programs_that_tests_ask_for() -> None:
    asked = {
        program
        for path in (ROOT / "tests").rglob("*.py")
        for program in re.findall(
            r"\b(?:need|which)\(\"([^\"]+)\"\)", path.read_text(encoding="utf-8")
        )
    }
    lines = (ROOT / ".ci" / "debian-packages").read_text(encoding="utf-8").splitlines()
    assert {line for line in lines if not line.startswith("#")} == {
        BRINGS[program] for program in asked
    }
