"""What the page Memory says, for every kind of figure."""

from __future__ import annotations

from datetime import date

from trainer.memory.calibration import Bin, Calibration, Pace
from trainer.memory.fitting import Fit
from trainer.memory.outlook import MinutesAhead, Readiness
from trainer.memory.plan import Timing
from trainer.ui.memory import words

DAY = date(2026, 3, 12)


def test_how_well_the_model_knows_the_player() -> None:
    bins = (Bin(0.8, 0.9, 0.85, 0.75, 40), Bin(0.9, 1.0, 0.95, 0.95, 60))
    found = Calibration(bins, 100, 0.3141, Pace(4.0, 2.5, 0.1), ())
    assert words.calibration_sentence(found) == (
        "Of 100 answers the model expected 91 % right, and 87 % were. Log-loss 0.314; the lower, "
        "the better it knows you."
    )
    assert words.pace_sentence(found) == (
        "A right answer took you 4.0 s at first and takes 2.5 s now; 10 % were slow."
    )
    nothing = Calibration((), 0, float("nan"), Pace(None, None, 0.0), ())
    assert words.calibration_sentence(nothing).startswith("No move was asked on two days yet.")
    assert words.pace_sentence(nothing) == ""


def test_what_plans_count_on() -> None:
    assert words.timing_sentence(Timing(right=5.24, wrong=9.0)) == (
        "With what follows, plans count on 5.2 s for a right answer and 9.0 s for a missed one."
    )
    assert words.timing_sentence(Timing(jump=1.4)).endswith(
        " and 6.0 s for a missed one, and 1.4 s more where a question begins on another line."
    )


def test_a_fit_that_is_no_better_says_that_nothing_changed() -> None:
    worse = Fit((), 0.3, 0.31, 800, 200)
    assert words.fit_sentence(worse).endswith("so the old parameters stay.")
    better = Fit((), 0.3, 0.25, 800, 200)
    assert words.fit_sentence(better) == (
        "Fitted to 800 answers; on the 200 later ones log-loss went from 0.300 to 0.250. The new "
        "parameters are in use."
    )


def test_the_weeks_ahead() -> None:
    assert "about 4 min a day" in words.ahead_sentence(MinutesAhead((3.0, 5.0)), 0.9)
    assert words.ahead_sentence(MinutesAhead((0.0,)), 0.9).startswith("Nothing is learnt yet")
    assert words.cost_sentence("The quiet way", 0.0).endswith("it costs nothing more.")
    assert "adds about 2.5 min a day" in words.cost_sentence("The quiet way", 2.5)
    assert words.ready_sentence(Readiness(9, 14, 10, 0.83), DAY) == (
        "Ready by 12 March: 14 min a day. At 10 min a day you can expect 83 % of full depth on "
        "that day."
    )
    assert words.ready_sentence(Readiness(9, None, 10, 0.2), DAY).startswith("Two hours a day")
    assert "without any drill" in words.ready_sentence(Readiness(9, 0, 10, 1.0), DAY)
    assert [words.most(one) for one in (0.5, 4, 11, 45, 300)] == [2, 5, 20, 60, 300]
