"""What starting a command costs, as multiples of a bare interpreter.

Whole processes, all cases in turn in every round, medians.
"""

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
GOALS = {"--help": 8.0, "whatif": 8.0, "due, against the same query": 25.0}


def main() -> None:
    """Print the table."""
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
        }
        times: dict[str, list[float]] = {name: [] for name in cases}
        for _ in range(ROUNDS):
            for name, arguments in cases.items():
                begun = time.perf_counter()
                subprocess.run(
                    [sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL, cwd=ROOT
                )
                times[name].append(time.perf_counter() - begun)
    median = {name: statistics.median(taken) for name, taken in times.items()}
    bare, raw = median["bare interpreter"], median["bare sqlite3, the same query"]
    ratios = {name: median[name] / bare for name in cases}
    ratios["due, against the same query"] = median["due"] / raw
    print(f"{'what':<34}{'× floor':>9}{'goal':>8}")
    for name, ratio in ratios.items():
        goal = GOALS.get(name)
        print(f"{name:<34}{ratio:>9.2f}{f'≤ {goal:g}' if goal else '':>8}")


if __name__ == "__main__":
    main()
