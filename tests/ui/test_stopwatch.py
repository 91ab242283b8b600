"""How long the player has thought, without the pauses."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from trainer.ui.drill.stopwatch import Stopwatch


class Clock:
    def __init__(self) -> None:
        self.now = 1_000.0

    def __call__(self) -> float:
        return self.now


def test_it_counts_from_the_start() -> None:
    clock = Clock()
    watch = Stopwatch(clock)
    clock.now += 5
    assert watch.seconds() == 0
    watch.start()
    clock.now += 3
    assert watch.seconds() == 3
    watch.start()
    assert watch.seconds() == 0


def test_pauses_do_not_count() -> None:
    clock = Clock()
    watch = Stopwatch(clock)
    watch.start()
    clock.now += 2
    watch.pause()
    watch.pause()
    clock.now += 100
    assert watch.seconds() == 2
    watch.resume()
    watch.resume()
    clock.now += 4
    assert watch.seconds() == 6


def test_a_start_during_a_pause_begins_anew() -> None:
    clock = Clock()
    watch = Stopwatch(clock)
    watch.start()
    clock.now += 2
    watch.pause()
    watch.start()
    clock.now += 1
    assert watch.seconds() == 1


@given(
    st.lists(st.tuples(st.sampled_from(["start", "pause", "resume", ""]), st.integers(0, 1000)))
)
def test_any_use_of_it(actions: list[tuple[str, int]]) -> None:
    clock = Clock()
    watch = Stopwatch(clock)
    running, counted = False, 0
    for action, seconds in actions:
        if action:
            getattr(watch, action)()
            running = action != "pause"
            if action == "start":
                counted = 0
        clock.now += seconds
        counted += seconds if running else 0
        assert watch.seconds() == counted
