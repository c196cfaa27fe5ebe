"""What starting a command costs, as multiples of a bare interpreter, and what that is made of.

Whole processes, all cases in turn in every round, medians. The parts of a command are the times
that Python itself gives for the loading of each module (``-X importtime``), by who wrote it, in
shares of the whole; what is left is the interpreter and the work.

Our bytecode is made before: where Python is told to write none (PYTHONDONTWRITEBYTECODE), every
run would compile anew what was edited since.
"""

import compileall
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROUNDS = 15
ROOT = Path(__file__).resolve().parent.parent
SCENARIO = ROOT / "shared" / "worked_examples" / "combined-burgers-chili.toml"
RAW = (
    "import sqlite3; c = sqlite3.connect({db!r}); "
    "c.execute('SELECT * FROM container WHERE ended_at IS NULL ORDER BY use_by').fetchall()"
)
MADE_OF = ("due", "on-hand", "item list")
OTHERS = ("sqlalchemy", "typer", "rich")
GOALS = {"--help": 8.0, "whatif": 8.0, "due, against the same query": 25.0}


def main() -> None:
    """Print the table."""
    compileall.compile_dir(ROOT / "holdlog", quiet=1)
    with tempfile.TemporaryDirectory() as folder:
        subprocess.run(
            [sys.executable, "-m", "holdlog", "demo", "--folder", folder],
            check=True,
            stdout=subprocess.DEVNULL,
            cwd=ROOT,
        )
        db = str(Path(folder) / "kitchen.db")
        cases = {
            "bare interpreter": ["-c", "pass"],
            "bare sqlite3, the same query": ["-c", RAW.format(db=db)],
            "--help": ["-m", "holdlog", "--help"],
            "whatif": ["-m", "holdlog", "whatif", str(SCENARIO)],
            "due": ["-m", "holdlog", "--db", db, "due"],
            "on-hand": ["-m", "holdlog", "--db", db, "on-hand"],
            "item list": ["-m", "holdlog", "--db", db, "item", "list"],
        }
        times: dict[str, list[float]] = {name: [] for name in cases}
        for _ in range(ROUNDS):
            for name, arguments in cases.items():
                begun = time.perf_counter()
                subprocess.run(
                    [sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, cwd=ROOT
                )
                times[name].append(time.perf_counter() - begun)
        parts = {name: loaded(cases[name]) for name in MADE_OF}
    median = {name: statistics.median(taken) for name, taken in times.items()}
    bare, raw = median["bare interpreter"], median["bare sqlite3, the same query"]
    ratios = {name: median[name] / bare for name in cases}
    ratios["due, against the same query"] = median["due"] / raw
    print(f"{'what':<34}{'× floor':>9}{'goal':>8}")
    for name, ratio in ratios.items():
        goal = GOALS.get(name)
        print(f"{name:<34}{ratio:>9.2f}{f'≤ {goal:g}' if goal else '':>8}")
    kinds = (*OTHERS, "holdlog", "the rest of Python")
    print(f"{'loading, % of the whole':<34}" + "".join(f"{name:>20}" for name in MADE_OF))
    for kind in kinds:
        print(f"{kind:<34}" + "".join(f"{parts[name].get(kind, 0):>20.0%}" for name in MADE_OF))
    left = {name: 1 - sum(parts[name].values()) for name in MADE_OF}
    print(f"{'interpreter and work':<34}" + "".join(f"{left[name]:>20.0%}" for name in MADE_OF))


def loaded(arguments: list[str]) -> dict[str, float]:
    """The share of a run that went into loading modules, by the package they belong to."""
    begun = time.perf_counter()
    done = subprocess.run(
        [sys.executable, "-X", "importtime", *arguments],
        check=True, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, cwd=ROOT,
    )  # fmt: skip
    whole = time.perf_counter() - begun
    taken: dict[str, float] = {}
    for line in done.stderr.splitlines():
        own, _, module = line.removeprefix("import time:").partition("|")
        if not own.strip().isdigit():
            continue
        package = module.partition("|")[2].strip().partition(".")[0]
        package = "typer" if package in ("click", "typer") else package
        known = package if package in (*OTHERS, "holdlog") else "the rest of Python"
        taken[known] = taken.get(known, 0.0) + int(own) / 1e6 / whole
    return taken


if __name__ == "__main__":
    main()
