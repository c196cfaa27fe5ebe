"""The built wheel, installed where no checkout is near, is the whole program.

Run inside the checkout such a test would import the checkout and prove nothing. So the wheel
(made from the sdist, as an index would serve it) goes into an environment of its own, and every
command runs from an empty folder. Nothing is downloaded: the packages that holdlog stands on are
lent by the environment that runs the suite.
"""

import os
import subprocess
import sys
import tarfile
import zipfile
from dataclasses import dataclass
from email.parser import HeaderParser
from pathlib import Path

import pytest

import holdlog

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = ("shared", "label_templates", "migrations")

pytestmark = pytest.mark.slow


@dataclass(frozen=True, slots=True)
class Installed:
    """An environment that holds the wheel, and an empty folder to run it from."""

    home: Path
    elsewhere: Path

    def run(self, program: str, *arguments: str | Path) -> str:
        """What the environment's ``program`` prints; the test fails if it does."""
        finished = subprocess.run(
            [self.home / "bin" / program, *arguments],
            cwd=self.elsewhere,
            env=_bare_environment(),
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )
        assert finished.returncode == 0, finished.stdout + finished.stderr
        return finished.stdout

    def folder(self, name: str) -> Path:
        """Where the installed program finds the data folder ``name``."""
        asked = f"from holdlog.bundled import folder; print(folder({name!r}))"
        return Path(self.run("python", "-c", asked).strip())


def _bare_environment() -> dict[str, str]:
    """This environment without what could lead Python or holdlog back to the checkout."""
    return {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("PYTHON", "HOLDLOG_", "VIRTUAL_ENV", "COVERAGE"))
    }


def _run(*arguments: str | Path) -> None:
    finished = subprocess.run(arguments, capture_output=True, text=True, check=False)
    assert finished.returncode == 0, finished.stdout + finished.stderr


@pytest.fixture(scope="module")
def distributions(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the sdist of this checkout and the wheel built from that sdist."""
    out = tmp_path_factory.mktemp("distributions")
    _run(sys.executable, "-m", "build", "--no-isolation", "--outdir", out, ROOT)
    return out


@pytest.fixture(scope="module")
def wheel(distributions: Path) -> Path:
    (built,) = distributions.glob("holdlog-*.whl")
    return built


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Installed:
    base = tmp_path_factory.mktemp("installed")
    home, elsewhere = base / "venv", base / "elsewhere"
    elsewhere.mkdir()
    _run(sys.executable, "-m", "venv", "--without-pip", home)
    pip = (sys.executable, "-m", "pip", "--python", home / "bin" / "python")
    _run(*pip, "install", "--quiet", "--no-deps", "--no-index", wheel)
    # A path file is obeyed only in an environment's own site-packages. So naming these folders
    # in one lends the packages of this environment, but not its link to the checkout.
    lent = [path for path in sys.path if Path(path).name in {"site-packages", "dist-packages"}]
    (purelib,) = home.glob("lib/python*/site-packages")
    (purelib / "lent.pth").write_text("\n".join([*lent, ""]), encoding="utf-8")
    return Installed(home, elsewhere)


# --- what is in the files --------------------------------------------------------------------


def test_the_sdist_holds_what_ships_and_nothing_else(distributions: Path) -> None:
    (sdist,) = distributions.glob("holdlog-*.tar.gz")
    with tarfile.open(sdist) as archive:
        top = {Path(name).parts[1] for name in archive.getnames()}
    # .gitignore comes along because hatchling reads it again when it builds from the sdist.
    assert top - {".gitignore", "CHANGELOG.md"} == {
        "PKG-INFO",
        "pyproject.toml",
        "LICENSE",
        "README.md",
        "holdlog",
        *FOLDERS,
    }


def test_the_wheel_holds_every_data_file_of_the_checkout(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = set(archive.namelist())
    for folder in FOLDERS:
        files = [
            path.relative_to(ROOT).as_posix()
            for path in (ROOT / folder).rglob("*")
            if path.is_file() and "__pycache__" not in path.parts
        ]
        assert files, f"{folder} is empty"
        assert {f"holdlog/_bundled/{name}" for name in files} <= names


def test_the_wheel_holds_no_tests_and_no_leftovers(wheel: Path) -> None:
    with zipfile.ZipFile(wheel) as archive:
        names = archive.namelist()
    assert {name.split("/")[0] for name in names} == {
        "holdlog",
        f"holdlog-{holdlog.__version__}.dist-info",
    }
    assert not [name for name in names if "__pycache__" in name or name.endswith(".pyc")]


def test_the_wheel_states_its_licence_and_the_python_it_needs(wheel: Path) -> None:
    about = f"holdlog-{holdlog.__version__}.dist-info"
    with zipfile.ZipFile(wheel) as archive:
        metadata = HeaderParser().parsestr(archive.read(f"{about}/METADATA").decode())
        licence = archive.read(f"{about}/licenses/LICENSE").decode()
    assert metadata["Version"] == holdlog.__version__
    assert metadata["License-Expression"] == "MIT"
    assert metadata["Requires-Python"] == ">=3.11"
    assert metadata["Description-Content-Type"] == "text/markdown", "the README is not in it"
    assert licence.startswith("MIT License")


# --- what the installed program does ---------------------------------------------------------


def test_the_program_that_runs_is_the_wheels(installed: Installed) -> None:
    where = installed.run("python", "-c", "import holdlog; print(holdlog.__file__)").strip()
    assert Path(where).is_relative_to(installed.home.resolve())
    assert not Path(where).is_relative_to(ROOT)


@pytest.mark.parametrize("name", FOLDERS)
def test_the_wheel_finds_its_own_data(installed: Installed, name: str) -> None:
    found = installed.folder(name)
    assert found.is_relative_to(installed.home.resolve())
    assert any(found.iterdir())


def test_a_folder_called_shared_beside_the_package_is_not_taken_for_ours(
    installed: Installed,
) -> None:
    (purelib,) = installed.home.glob("lib/python*/site-packages")
    stranger = purelib / "shared"
    stranger.mkdir()
    try:
        assert installed.folder("shared") != stranger.resolve()
    finally:
        stranger.rmdir()


def test_a_damaged_installation_is_told_in_one_line(installed: Installed) -> None:
    asked = (
        "from holdlog.bundled import folder\n"
        "from holdlog.core.errors import Fault\n"
        "try: folder('rulebooks-that-never-were')\n"
        "except Fault as fault: print(fault.line())\n"
    )
    said = installed.run("python", "-c", asked).splitlines()
    assert len(said) == 1
    assert "rulebooks-that-never-were" in said[0]
    assert "Install holdlog again." in said[0]


def test_the_wheels_migrations_are_a_chain_that_alembic_can_walk(installed: Installed) -> None:
    asked = (
        "from alembic.config import Config\n"
        "from alembic.script import ScriptDirectory\n"
        "from holdlog.bundled import folder\n"
        "config = Config()\n"
        "config.set_main_option('script_location', str(folder('migrations')))\n"
        "print(*ScriptDirectory.from_config(config).get_heads())\n"
    )
    assert len(installed.run("python", "-c", asked).split()) == 1


def test_help_and_version_run(installed: Installed) -> None:
    assert "whatif" in installed.run("holdlog", "--help")
    assert holdlog.__version__ in installed.run("holdlog", "--version")
    assert holdlog.__version__ in installed.run("python", "-m", "holdlog", "--version")


def test_whatif_works_out_worked_examples_of_the_wheel(installed: Installed) -> None:
    examples = sorted((installed.folder("shared") / "worked_examples").glob("*.toml"))
    assert examples
    # Every example is judged by the suite of the rules; here a few show that the wheel's own
    # rulebooks are found.
    for example in examples[:3]:
        assert '"verdict"' in installed.run("holdlog", "whatif", example, "--json")


# --- the kitchen's commands, which need the database -----------------------------------------


# --- an editable install ---------------------------------------------------------------------


@pytest.mark.parametrize("name", FOLDERS)
def test_an_editable_install_reads_the_checkout_and_not_a_stale_copy(
    tmp_path: Path, name: str
) -> None:
    """Run from another folder: in the checkout the current folder alone would explain it."""
    asked = f"from holdlog.bundled import folder; print(folder({name!r}))"
    finished = subprocess.run(
        [sys.executable, "-c", asked],
        cwd=tmp_path,
        env=_bare_environment(),
        capture_output=True,
        text=True,
        check=False,
    )
    assert finished.returncode == 0, finished.stderr
    assert Path(finished.stdout.strip()) == ROOT / name
