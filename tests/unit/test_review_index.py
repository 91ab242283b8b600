"""The review index: its table, what it says in plain cases, and where it is kept."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from trainer.memory import fsrs_arrays as fsrs
from trainer.memory.index_store import IndexStore, read_index, write_index
from trainer.memory.model import PARAMETERS
from trainer.memory.review_index import DISCOUNT, ReviewIndex, compute_review_index
from trainer.resources import resource_path

W = np.array(PARAMETERS)


@pytest.fixture(scope="module")
def index() -> ReviewIndex:
    return compute_review_index()


def test_the_shipped_index_is_the_computed_one(index: ReviewIndex) -> None:
    shipped = read_index(resource_path("memory", "review-index.npz").read_bytes())
    assert shipped.log_index == pytest.approx(index.log_index, abs=1e-4)
    assert shipped.new == pytest.approx(index.new)


def test_a_move_that_is_never_asked_again_is_worth_its_recall(index: ReviewIndex) -> None:
    """At its own index as price, asking a new move once pays exactly what it costs, or more.

    One showing without any later review is a policy like any other, so the index is at least
    what it gives: (days of recall after it − days of guessing) / seconds, discounted; within
    one part in a hundred, as the table interpolates.
    """
    days = np.linspace(0, 400, 40_001)
    fade = np.exp(-DISCOUNT * days)

    def worth(stability: float) -> float:
        curve = fade * fsrs.recall_of(W, days, np.array(stability))
        return float(((curve[1:] + curve[:-1]) / 2 * np.diff(days)).sum())

    after = 0.2 * worth(PARAMETERS[2]) + 0.8 * worth(PARAMETERS[0])
    once = (after - 0.2 / DISCOUNT) / (0.2 * 4 + 0.8 * 10)
    assert index.new >= once * 0.99


def test_the_index_rises_as_a_memory_fades_and_falls_with_its_stability(
    index: ReviewIndex,
) -> None:
    stability = np.full(12, 20.0)
    days = np.array([1.0, 2, 3, 4, 6, 8, 12, 16, 20, 25, 30, 40])
    waiting = index.of(stability, np.full(12, 5.0), days)
    assert (np.diff(waiting) > 0).all()
    stabilities = np.geomspace(3.0, 1000.0, 20)
    firm = index.of(stabilities, np.full(20, 5.0), np.full(20, 3.0))
    assert (np.diff(firm) < 0).all()


def test_unseen_moves_have_the_index_of_a_first_showing(index: ReviewIndex) -> None:
    found = index.of(np.array([np.nan, 10.0]), np.array([np.nan, 5.0]), np.array([0.0, 10.0]))
    assert found[0] == index.new
    assert np.isfinite(found).all()


def test_other_parameters_are_computed_once_and_kept(tmp_path: Path) -> None:
    own = tuple(parameter * 1.1 for parameter in PARAMETERS)
    made = IndexStore(tmp_path).index_for(own)
    (kept,) = (tmp_path / "review-index").iterdir()
    before = kept.stat().st_mtime_ns
    again = IndexStore(tmp_path).index_for(own)
    assert kept.stat().st_mtime_ns == before
    assert again.log_index == pytest.approx(made.log_index, abs=1e-4)
    kept.write_bytes(b"PK damaged")
    mended = IndexStore(tmp_path).index_for(own)
    assert mended.log_index == pytest.approx(made.log_index, abs=1e-4)
    assert kept.read_bytes() == write_index(mended)


@pytest.mark.parametrize("data", [b"", b"PK\x03\x04 nothing", b"\x93NUMPY"])
def test_damaged_bytes_are_no_index(data: bytes) -> None:
    with pytest.raises(ValueError, match=r"review index|cannot|pickle|read|magic"):
        read_index(data)
