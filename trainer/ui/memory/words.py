"""What the page Memory says, in plain sentences."""

from __future__ import annotations

import math
from datetime import date
from typing import TYPE_CHECKING

from trainer.memory.days import day_and_month
from trainer.notation.numbers import count

#: Fewer seconds are not told.
_HARDLY = 0.05

if TYPE_CHECKING:
    from trainer.memory.calibration import Calibration
    from trainer.memory.fitting import Fit
    from trainer.memory.outlook import MinutesAhead, Readiness
    from trainer.memory.plan import Timing


def calibration_sentence(found: Calibration) -> str:
    """How well recall was predicted."""
    if not found.predicted:
        return (
            "No move was asked on two days yet. Once some were, this shows how often you knew "
            "what the model expected you to know."
        )
    right = sum(one.actual * one.count for one in found.bins) / found.predicted
    expected = sum(one.predicted * one.count for one in found.bins) / found.predicted
    return (
        f"Of {count(found.predicted, 'answer')} the model expected {percent(expected)} right, and "
        f"{percent(right)} were. Log-loss {found.log_loss:.3f}; the lower, the better it knows "
        "you."
    )


def pace_sentence(found: Calibration) -> str:
    """How long right answers take."""
    pace = found.pace
    if pace.first is None or pace.lately is None:
        return ""
    return (
        f"A right answer took you {pace.first:.1f} s at first and takes {pace.lately:.1f} s now; "
        f"{percent(pace.slow_share)} were slow."
    )


def timing_sentence(timing: Timing) -> str:
    """What plans count on."""
    said = (
        f"With what follows, plans count on {timing.right:.1f} s for a right answer and "
        f"{timing.wrong:.1f} s for a missed one"
    )
    if timing.jump < _HARDLY:
        return f"{said}."
    return f"{said}, and {timing.jump:.1f} s more where a question begins on another line."


def fit_sentence(found: Fit) -> str:
    """What came of a fit."""
    loss = (
        f"Fitted to {count(found.trained, 'answer')}; on the {found.held_out:,} later ones "
        f"log-loss went from {found.loss_before:.3f} to {found.loss_after:.3f}."
    )
    if found.better:
        return f"{loss} The new parameters are in use."
    return f"{loss} That is no better, so the old parameters stay."


def ahead_sentence(ahead: MinutesAhead, retention: float) -> str:
    """The minutes of the coming days."""
    if not any(ahead.minutes):
        return "Nothing is learnt yet, so nothing has to be kept up."
    return (
        f"Keeping what you have learnt above {percent(retention)} takes about "
        f"{ahead.mean:.0f} min a day over the coming {len(ahead.minutes)} days."
    )


def cost_sentence(title: str, minutes: float) -> str:
    """What a section would cost."""
    if minutes < 0.05:
        return f"All of “{title}” is learnt already; it costs nothing more."
    told = f"{minutes:.1f}" if minutes < 10 else f"{minutes:.0f}"
    return f"Learning what is new in “{title}” adds about {told} min a day over 30 days."


def ready_sentence(found: Readiness, day: date) -> str:
    """When a line-up is ready."""
    when = day_and_month(day)
    here = (
        f"At {found.chosen} min a day you can expect {percent(found.depth)} of full depth on that "
        "day."
    )
    if found.minutes is None:
        return f"Two hours a day are not enough to be ready by {when}. {here}"
    if found.minutes == 0:
        return f"Ready by {when} without any drill. {here}"
    return f"Ready by {when}: {found.minutes} min a day. {here}"


def percent(share: float) -> str:
    """A share as `71 %`."""
    return f"{share * 100:.0f} %"


def most(minutes: float) -> int:
    """The top of a scale of minutes: a round number at or above the most."""
    for top in (2, 5, 10, 20, 30, 60, 120, 240):
        if minutes <= top:
            return top
    return math.ceil(minutes / 60) * 60
