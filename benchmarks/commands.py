"""What a command waits for before it answers: processor seconds, and times what typer and pint take to import.

pint is the yardstick alone: a library of units that a command could have leant on. A median of all runs.
"""

from __future__ import annotations

import statistics
import subprocess
import sys

from benchmarks.stopwatch import timed

RUNS = 9
BARE = "import typer, pint"
OURS = "from witnessmark.cli.main import main; main()"
COMMANDS: dict[str, tuple[str, ...]] = {
    "typer and pint imported": (BARE,),
    "witnessmark --help": (OURS, "--help"),
    "calculate torque-check, in N·m": (OURS, "calculate", "torque-check", "thread=M8", "torque=25 N·m"),
    "calculate convert, to lbf·ft": (OURS, "calculate", "convert", "60 N·m", "to=lbf·ft"),
    "calculate, a search": (OURS, "calculate", "allen key"),
    "calculate, the whole list": (OURS, "calculate"),
}  # fmt: skip


def main() -> None:
    """Every command in turn, `RUNS` times, so that what else runs on the machine falls on all alike."""
    print("\nBefore a command answers")
    seconds: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(RUNS):
        for name, command in COMMANDS.items():
            seconds[name].append(timed(lambda command=command: _run(command))[1])
    medians = {name: statistics.median(several) for name, several in seconds.items()}
    row = "{:<34} {:>6} {:>16}"
    print(row.format("", "CPU s", "times imported"))
    bare = medians[next(iter(COMMANDS))]
    for name, median in medians.items():
        print(row.format(name, f"{median:.2f}", f"{median / bare:.2f}"))


def _run(command: tuple[str, ...]) -> None:
    quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
    subprocess.run([sys.executable, "-c", *command], check=True, **quiet)  # noqa: S603


if __name__ == "__main__":
    main()
