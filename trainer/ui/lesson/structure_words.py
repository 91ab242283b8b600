"""What the page of a structure says, in lines. No Qt."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

import chess

from trainer.lesson.breaks import Break
from trainer.lesson.features import Features
from trainer.lesson.games import GameStructure
from trainer.lesson.report import break_text
from trainer.lesson.shares import StructureShare
from trainer.lesson.structures import Found
from trainer.lesson.trick_text import AGREES, side_name, trick_sentence
from trainer.lesson.tricks import Trick
from trainer.notation.display import percent, sentence_list
from trainer.ui.lesson.facts import PositionFacts

_MOST_GAMES = 3
_MOST_OTHERS = 6


def met(share: StructureShare) -> str:
    """How often it is met, and how often the repertoire ends with it."""
    return (
        f"Met in {percent(share.met)} of the games that follow this repertoire; "
        f"{percent(share.ends)} of its lines end with it, by reach."
    )


def own_games(structure: GameStructure) -> str:
    """In how many of the player's games it stood, and where longest."""
    longest = [
        f"{place.players} ({place.path.name}, game {place.number})"
        for place in structure.games[:_MOST_GAMES]
    ]
    count = f"{len(structure.games)} of {structure.total}"
    share = percent(len(structure.games) / structure.total)
    return f"In {count} of your games ({share}), longest in {sentence_list(longest)}."


def other_structures(found: Iterable[GameStructure], known: Collection[str]) -> str:
    """What the player's games come to that the repertoire does not know; empty where nothing."""
    named = [
        f"{one.found.name} {percent(len(one.games) / one.total)}"
        for one in found
        if one.found.key not in known
    ]
    more = f" and {len(named) - _MOST_OTHERS} more" if len(named) > _MOST_OTHERS else ""
    if not named:
        return ""
    return f"Your games come to others as well: {', '.join(named[:_MOST_OTHERS])}{more}."


def trick_lines(tricks: Sequence[Trick]) -> list[str]:
    """The tricks, each with the word of the engine where it was asked."""
    return [f"{trick_sentence(one)}{AGREES[one.confirmed]}" for one in tricks]


def plan_lines(found: Found, side: chess.Color) -> Iterable[str]:
    """What each side plays for, the player first."""
    for color in (side, not side):
        yield f"{side_name(color)}: {found.plan(color)}"


def usual_breaks(known: Features, found: Found) -> list[Break]:
    """The usual breaks that the pawns on this board can still make, White's first."""
    return [
        one
        for side in (chess.WHITE, chess.BLACK)
        for one in known.of(side).breaks
        if one.target in found.breaks(side)
    ]


def board_lines(facts: PositionFacts, usual: list[Break]) -> Iterable[str]:
    """The breaks with the numbers of their arrows, then the other features."""
    for number, one in enumerate(usual, start=1):
        mark = f"{number}  " if len(usual) > 1 else ""
        yield f"{mark}{side_name(one.side)} {break_text(one)}"
    known = facts.features
    for side in (chess.WHITE, chess.BLACK):
        own = known.of(side)
        parts = []
        if own.outposts:
            names = sentence_list(chess.square_name(one.square) for one in own.outposts)
            parts.append(f"outpost {names}" if len(own.outposts) == 1 else f"outposts {names}")
        if own.weak_squares:
            parts.append(f"weak {sentence_list(map(chess.square_name, own.weak_squares))}")
        bad = [chess.square_name(one.square) for one in own.bishops if one.bad]
        if bad:
            parts.append(f"bad bishop {sentence_list(bad)}")
        half = [chess.FILE_NAMES[number] for number in known.files.half_open(side)]
        if half:
            parts.append(f"half-open {sentence_list(half)}")
        parts.append(f"space {own.space}")
        yield f"{side_name(side)}: {', '.join(parts)}"
    if known.files.open:
        names = sentence_list(chess.FILE_NAMES[number] for number in known.files.open)
        yield f"Open: {names}"
    for one in known.majorities:
        yield f"{side_name(one.side)} has {one.own} to {one.other} on the {one.wing}"
