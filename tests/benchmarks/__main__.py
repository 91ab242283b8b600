"""`python -m tests.benchmarks [NAME…] [--runs N]` prints the table of figures."""

from __future__ import annotations

import argparse
import importlib
import os
import platform
import sys
import traceback
from collections import defaultdict
from collections.abc import Callable, Iterable
from compileall import compile_dir
from pathlib import Path
from statistics import median

from tests.benchmarks.figures import Figure

HEADINGS = ("what", "median", "from – to", "against", "its median", "ratio", "goal", "met")


def main() -> int:
    """Measure and print; 1 when a benchmark failed or a goal was missed."""
    names = sorted(path.stem[6:] for path in Path(__file__).parent.glob("bench_*.py"))
    parser = argparse.ArgumentParser(prog="sh packaging/bench")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of: {', '.join(names)}")
    parser.add_argument("--runs", type=int, default=5, metavar="N", help="runs of each (5)")
    options = parser.parse_args()
    unknown = sorted(set(options.names) - set(names))
    if unknown or options.runs < 1:
        parser.error(f"no such benchmark: {', '.join(unknown)}" if unknown else "--runs N, N ≥ 1")

    # As at a user's: an installed program is compiled, and a machine may be told not to keep that.
    compile_dir(Path(__file__).parents[2] / "trainer", quiet=2)
    print(f"Python {platform.python_version()}, {platform.platform()}, {os.cpu_count()} cores")
    rows: list[tuple[str, ...]] = []
    sound = True
    for name in options.names or names:
        print(f"measuring {name} …", file=sys.stderr, flush=True)
        try:
            module = importlib.import_module(f"tests.benchmarks.bench_{name}")
            figures = repeat(module.measure, getattr(module, "RUNS", options.runs))
        except Exception:
            traceback.print_exc()
            rows.append((f"{name}: FAILED, see above", *[""] * (len(HEADINGS) - 1)))
            sound = False
            continue
        rows += [row(runs) for runs in figures]
        sound = sound and all(holds(runs) is not False for runs in figures)
    print(table(rows))
    return 0 if sound else 1


def repeat(measure: Callable[[], list[Figure]], runs: int) -> list[list[Figure]]:
    """The figures of `runs` calls of `measure`, gathered by name in the order of the first."""
    by_name: dict[str, list[Figure]] = defaultdict(list)
    for _ in range(runs):
        for figure in measure():
            by_name[figure.name].append(figure)
    return list(by_name.values())


def holds(runs: list[Figure]) -> bool | None:
    """Whether the goal was met in at least half of the runs; None where nothing is promised."""
    verdicts = [figure.met for figure in runs if figure.met is not None]
    return None if not verdicts else 2 * sum(verdicts) >= len(verdicts)


def row(runs: list[Figure]) -> tuple[str, ...]:
    """One line of the table, under `HEADINGS`."""
    first = runs[0]
    values = [figure.value for figure in runs]
    baselines = [figure.baseline_value for figure in runs if figure.baseline_value is not None]
    ratios = [figure.ratio for figure in runs if figure.ratio is not None]
    spread = f"{number(min(values))} – {number(max(values))}" if len(runs) > 1 else ""
    verdict = holds(runs)
    return (
        first.name,
        f"{number(median(values))} {first.unit}",
        spread,
        first.baseline_name,
        f"{number(median(baselines))} {first.unit}" if baselines else "",
        f"{number(median(ratios))}×" if ratios else "",
        first.goal,
        "" if verdict is None else "yes" if verdict else "NO",
    )


def number(value: float) -> str:
    """`value` with three figures that count, never in powers of ten: 0.0123, 4.56, 12,345."""
    if abs(value) >= 100 or value == int(value):
        return f"{value:,.0f}"
    decimals = 2
    while decimals < 9 and abs(value) < 10 ** (2 - decimals):
        decimals += 1
    return f"{value:.{decimals if abs(value) < 10 else 1}f}"


def table(rows: Iterable[tuple[str, ...]]) -> str:
    """The rows under their headings, in columns; a column that no row fills is left out."""
    rows = list(rows)
    kept = [i for i in range(len(HEADINGS)) if any(line[i] for line in rows)]
    lines = [[HEADINGS[i] for i in kept], *([line[i] for i in kept] for line in rows)]
    widths = [max(len(line[i]) for line in lines) for i in range(len(kept))]
    lines.insert(1, ["-" * width for width in widths])
    return "\n".join(
        "| "
        + " | ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True))
        + " |"
        for line in lines
    )


if __name__ == "__main__":
    sys.exit(main())
