"""The review index: what a second spent on asking a move now is worth, against asking it later.

For one move of stability S and difficulty D, and a price λ of a second, let J be the best that
can be had from now on: days of recall, discounted by e^(−ρt), less λ for each second of asking.

    J(S, D) = max over t of ∫₀ᵗ e^(−ρu) R(u, S) du
              + e^(−ρt) · [ −λ · cost(R) + R · J(after right) + (1 − R) · J(after wrong) ]

with R = R(t, S). The index ι(S, D, t) is the largest λ at which asking after t days is no worse
than waiting longer: the price at which the move is just worth its seconds. It is the index by
which a restless bandit is played (P. Whittle, "Restless bandits: activity allocation in a
changing world", 1988), here with the memory model FSRS-6; as days of recall are counted for one
move, the index is multiplied by what recall of that move is worth in the next game.

The table is found by dynamic programming on a grid, once for each set of parameters.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from trainer.memory import fsrs_arrays as fsrs
from trainer.memory.model import PARAMETERS, UNSEEN_RECALL
from trainer.memory.plan import Timing
from trainer.repertoire.arrays import Floats

#: ρ: what lies 30 days ahead counts 1/e of what is now.
DISCOUNT: Final = 1 / 30

_STABILITIES: Final = np.geomspace(0.02, 5000.0, 56)
_DIFFICULTIES: Final = np.linspace(1.0, 10.0, 10)
_DAYS: Final = np.unique(np.round(np.geomspace(1.0, 400.0, 50)))
_PRICES: Final = np.geomspace(1e-4, 10.0, 44)
#: The shape of a table: stabilities, difficulties, days.
GRID: Final = (len(_STABILITIES), len(_DIFFICULTIES), len(_DAYS))
_SWEEPS: Final = 400
_CLOSE: Final = 2e-4


@dataclass(frozen=True, eq=False)
class ReviewIndex:
    """ι on a grid: `log_index` (stabilities, difficulties, days), and `new` for a first showing.

    The index is in discounted days of recall a second.
    """

    log_index: Floats
    new: float

    def of(self, stability: Floats, difficulty: Floats, days: Floats) -> Floats:
        """ι of memories of any one shape; `new` where the stability is NaN."""
        unseen = np.isnan(stability)
        s = np.where(unseen, 1.0, stability)
        d = np.where(unseen, 5.0, difficulty)
        table = self.log_index.reshape(-1)
        cell = np.zeros(s.shape, np.intp)
        parts = []
        for grid, value in (
            (np.log(_STABILITIES), np.log(s)),
            (_DIFFICULTIES, d),
            (np.log(_DAYS), np.log(np.maximum(days, 1.0))),
        ):
            low, part = _cell(grid, value)
            cell = cell * len(grid) + low
            parts.append(part)
        _, difficulties, waits = self.log_index.shape
        found = np.zeros(s.shape)
        for corner in range(8):
            step = (corner >> 2 & 1, corner >> 1 & 1, corner & 1)
            weight = np.ones(s.shape)
            for up, part in zip(step, parts, strict=True):
                weight = weight * (part if up else 1 - part)
            offset = (step[0] * difficulties + step[1]) * waits + step[2]
            found += weight * table[cell + offset]
        return np.where(unseen, self.new, np.exp(found))


def _cell(grid: Floats, value: Floats) -> tuple[np.ndarray, Floats]:
    """The grid cell below each value, and how far into it the value lies (0 to 1)."""
    # The grids are dense enough, and searching one costs less than a formula for each.
    low = np.clip(np.searchsorted(grid, value, side="right") - 1, 0, len(grid) - 2)
    part: Floats = np.clip((value - grid[low]) / (grid[low + 1] - grid[low]), 0.0, 1.0)
    return low, part


def compute_review_index(
    parameters: Sequence[float] = PARAMETERS,
    timing: Timing | None = None,
    *,
    discount: float = DISCOUNT,
    unseen: float = UNSEEN_RECALL,
) -> ReviewIndex:
    """The index for these parameters. Takes seconds.

    A right answer costs `timing.right`, a wrong one `timing.wrong + timing.right`, as it comes
    back; recall of a move never shown is `unseen`.
    """
    timing = timing or Timing()
    return _Tables(np.array(parameters, np.float64), timing, discount, unseen).index()


class _Tables:
    """The dynamic programme over the grid; memories are its rows, prices its columns."""

    def __init__(self, parameters: Floats, timing: Timing, discount: float, unseen: float) -> None:
        self.w = parameters
        self.timing = timing
        self.discount = discount
        self.unseen = unseen
        s, d = np.meshgrid(_STABILITIES, _DIFFICULTIES, indexing="ij")
        self.s, self.d = s.reshape(-1), d.reshape(-1)
        self.waiting = _waiting(parameters, discount)

    def index(self) -> ReviewIndex:
        at_day = _Asking(self, _DAYS)
        never = np.repeat(self.waiting(np.array([np.inf])), len(_DIFFICULTIES), axis=0)
        value = np.repeat(never, len(_PRICES), axis=1)
        for _ in range(_SWEEPS):
            better = np.maximum(at_day.values(value).max(axis=1), never)
            change = float(np.abs(better - value).max())
            value = better
            if change < _CLOSE:
                break
        now = at_day.values(value)
        # Waiting one day longer is compared as well as waiting to any later day of the grid.
        later = _Asking(self, _DAYS + 1).values(value)
        best = np.maximum(later, never[:, :, None])
        tail = np.maximum.accumulate(now[:, ::-1], axis=1)[:, ::-1]
        best[:, :-1] = np.maximum(best[:, :-1], tail[:, 1:])
        index = _largest_price(now - best)
        return ReviewIndex(np.log(index).reshape(GRID), self._new(value))

    def _new(self, value: Floats) -> float:
        """The index of a first showing: until then recall stays what a guess gives."""
        after = []
        for rating in (fsrs.GOOD, fsrs.AGAIN):
            s = np.atleast_1d(fsrs.first_stability(self.w, rating))
            d = np.atleast_1d(fsrs.first_difficulty(self.w, rating))
            after.append(_gather(value, s, d)[0])
        cost = self.unseen * self.timing.right + (1 - self.unseen) * self.missed
        gain = self.unseen * after[0] + (1 - self.unseen) * after[1] - _PRICES * cost
        gain = gain - self.unseen / self.discount
        return float(_largest_price(gain[None, None, :])[0, 0])

    @property
    def missed(self) -> float:
        return self.timing.wrong + self.timing.right


class _Asking:
    """What asking after each of some waiting times gives, for any J."""

    def __init__(self, tables: _Tables, days: Floats) -> None:
        s, d = tables.s[:, None], tables.d[:, None]
        recall = fsrs.recall_of(tables.w, days, s)
        right, wrong = tables.timing.right, tables.missed
        discounted = np.exp(-tables.discount * days)
        before = np.repeat(tables.waiting(days), len(_DIFFICULTIES), axis=0)
        cost = recall * right + (1 - recall) * wrong
        self.fixed = before[:, :, None] - (discounted * cost)[:, :, None] * _PRICES
        self.after_right = _Corners(
            fsrs.stability_after_right(tables.w, s, d, recall),
            np.broadcast_to(fsrs.difficulty_after(tables.w, d, fsrs.GOOD), recall.shape),
            discounted * recall,
        )
        self.after_wrong = _Corners(
            fsrs.stability_after_wrong(tables.w, s, d, recall),
            np.broadcast_to(fsrs.difficulty_after(tables.w, d, fsrs.AGAIN), recall.shape),
            discounted * (1 - recall),
        )

    def values(self, value: Floats) -> Floats:
        """(memories, days, prices) for J of (memories, prices)."""
        return self.fixed + self.after_right.of(value) + self.after_wrong.of(value)


class _Corners:
    """Bilinear interpolation of J at (log S, D), scaled, prepared once."""

    def __init__(self, stability: Floats, difficulty: Floats, scale: Floats) -> None:
        row, up = _cell(np.log(_STABILITIES), np.log(stability))
        column, right = _cell(_DIFFICULTIES, difficulty)
        width = len(_DIFFICULTIES)
        cell = row * width + column
        self.corners = [
            (cell, scale * (1 - up) * (1 - right)),
            (cell + 1, scale * (1 - up) * right),
            (cell + width, scale * up * (1 - right)),
            (cell + width + 1, scale * up * right),
        ]

    def of(self, value: Floats) -> Floats:
        total: Floats = sum(value[cell] * weight[..., None] for cell, weight in self.corners)
        return total


def _gather(value: Floats, stability: Floats, difficulty: Floats) -> Floats:
    return _Corners(stability, difficulty, np.ones(stability.shape)).of(value)


def _largest_price(gain: Floats) -> Floats:
    """The largest price (last axis) at which `gain` is not negative, between grid prices.

    The gain falls with the price where it matters; the least price stands where there is none.
    """
    good = gain >= 0
    last = good.shape[-1] - 1 - np.argmax(good[..., ::-1], axis=-1)
    last = np.where(good.any(axis=-1), last, 0)
    above = np.minimum(last + 1, gain.shape[-1] - 1)
    low = np.take_along_axis(gain, last[..., None], -1)[..., 0]
    high = np.take_along_axis(gain, above[..., None], -1)[..., 0]
    fall = low - high
    part = np.where((fall > 0) & (low > 0), low / np.where(fall > 0, fall, 1.0), 0.0)
    logs = np.log(_PRICES)
    price: Floats = np.exp(logs[last] + np.clip(part, 0, 1) * (logs[above] - logs[last]))
    return price


def _waiting(parameters: Floats, discount: float):  # type: ignore[no-untyped-def]
    """∫₀ᵗ e^(−ρu) R(u, S) du for the grid's stabilities, by the trapezoidal rule."""
    far = 20 / discount
    points = np.concatenate(([0.0], np.geomspace(0.002, far, 600)))
    curve = np.exp(-discount * points) * fsrs.recall_of(parameters, points, _STABILITIES[:, None])
    steps = (curve[:, 1:] + curve[:, :-1]) / 2 * np.diff(points)
    area = np.concatenate((np.zeros((len(_STABILITIES), 1)), np.cumsum(steps, axis=1)), axis=1)

    def until(days: Floats) -> Floats:
        days = np.minimum(days, far)
        low, part = _cell(points, days)
        result: Floats = area[:, low] * (1 - part) + area[:, low + 1] * part
        return result

    return until
