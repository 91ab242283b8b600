"""What the window and the terminal say about today and about a finished drill."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from trainer.notation.numbers import count

if TYPE_CHECKING:
    from trainer.memory.drill import Summary
    from trainer.memory.today import DayLoad, Depth, Today

WELCOME = (
    "Stemline asks you the moves of this repertoire, a few minutes a day, and chooses what is "
    "worth asking by how likely a game gets there and how well you remember it. "
    "A move that you do not find is shown to you, and asked again before the drill ends."
)


def worth_sentence(today: Today) -> str:
    """How many positions are worth asking now, and about how many minutes that is."""
    if not today.decisions:
        return "This repertoire has no prepared move yet."
    if not today.worth_asking:
        return "Nothing is worth asking now: all that matters is remembered."
    minutes = max(1, math.ceil(today.minutes_needed))
    are = "is" if today.worth_asking == 1 else "are"
    return (
        f"{count(today.worth_asking, 'position')} {are} worth asking now, "
        f"about {count(minutes, 'minute')} in all."
    )


def plan_sentence(today: Today) -> str:
    """What the session that would start now holds."""
    if not today.questions:
        return ""
    new = ""
    if today.new_questions:
        all_new = today.new_questions == today.questions > 1
        new = ", all of them new" if all_new else f", {today.new_questions} of them new"
    spare = ""
    if today.spare_questions:
        are = "is" if today.spare_questions == 1 else "are"
        spare = f"; {today.spare_questions} of them {are} asked because there is time"
    return f"The next drill asks {count(today.questions, 'position')}{new}{spare}."


def outlook_sentence(depth: Depth) -> str:
    """Depth in hand in one sentence."""
    return (
        f"In your next game you can expect {depth.now:.1f} prepared moves in a row from memory. "
        f"Tomorrow it is {depth.drilled:.1f} with today's drill, "
        f"{depth.without:.1f} without it; the whole repertoire gives {depth.full:.1f}."
    )


def load_sentence(load: Sequence[DayLoad]) -> str:
    """The load of the coming days in one sentence."""
    minutes = sum(day.minutes for day in load)
    if not any(day.positions for day in load):
        return "Nothing that you have learnt falls due in these days."
    return f"What you have learnt takes about {count(math.ceil(minutes), 'minute')} in all."


def asked_sentence(summary: Summary) -> str:
    """What was asked and how it went."""
    if not summary.asked and summary.repeats:
        return f"{count(summary.repeats, 'answer')} to what was answered today already."
    if not summary.asked:
        return "Nothing was asked this time."
    parts = [f"{count(summary.asked, 'position')} asked, {summary.right} right at once"]
    if summary.slow:
        parts.append(f"{summary.slow} of them slowly")
    if summary.hinted:
        parts.append(f"{summary.hinted} with a hint")
    if summary.missed:
        parts.append(f"{len(summary.missed)} missed")
    if summary.skipped:
        parts.append(f"{summary.skipped} skipped")
    minutes = summary.seconds / 60
    time = f"{minutes:.0f} min" if minutes >= 1 else f"{summary.seconds:.0f} s"
    return ", ".join(parts) + f"; {time} of thinking."


def gain_sentence(summary: Summary) -> str:
    """What the drill changed in depth in hand."""
    after, before = f"{summary.depth_after:.1f}", f"{summary.depth_before:.1f}"
    # Compared as they are shown: "2.1, up from 2.1" would tell nothing.
    if after == before:
        return f"Depth in hand for a game tomorrow: {after} moves."
    direction = "up" if summary.depth_after > summary.depth_before else "down"
    return (
        f"Depth in hand for a game tomorrow: {after} moves, {direction} from {before} without "
        "this drill."
    )


def strangers_sentence(summary: Summary) -> str:
    """How strangers fared; empty where there were none and no false alarm."""
    met = summary.strangers_noticed + summary.strangers_unnoticed
    parts = []
    if met:
        parts.append(f"{summary.strangers_noticed} of {count(met, 'stranger')} noticed")
    if summary.false_alarms:
        parts.append(count(summary.false_alarms, "false alarm"))
    return ", ".join(parts) + "." if parts else ""
