"""What a benchmark hands back.

The contract: each module `tests/benchmarks/bench_*.py` has a function

    def measure() -> list[Figure]

that does its work once and returns its figures. `python -m tests.benchmarks` (which is what
`sh packaging/bench` calls) runs `measure` several times, takes the median of each figure by its
name, and prints one table. A module whose single run takes its own medians says `RUNS = 1`.

Where there is something to compare with, the baseline is measured in the same run, turn and turn
about with the thing itself, so that the ratio holds on a machine that is busy or slow.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Figure:
    """One measured value: what it is, what it ought to be, and what it is measured against.

    `value` and `baseline_value` are in `unit`. `met` says whether `goal`, a phrase for the
    reader, holds; None where nothing is promised.
    """

    name: str
    value: float
    unit: str
    goal: str = ""
    baseline_name: str = ""
    baseline_value: float | None = None
    met: bool | None = None

    @property
    def ratio(self) -> float | None:
        """`value` over `baseline_value`, or None without a baseline."""
        if not self.baseline_value:
            return None
        return self.value / self.baseline_value
