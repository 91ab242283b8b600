"""What is said of sections: rows of the list, what deleting takes, what a merge brings. No Qt."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import chess

from trainer.errors import StemlineError
from trainer.notation.display import Notation, shown_san
from trainer.notation.numbers import count
from trainer.repertoire.graph import STARTING_TITLE, Node, Repertoire, Section
from trainer.repertoire.orders import order_of, shown_order
from trainer.repertoire.reader import LoadedRepertoire
from trainer.repertoire.sections import root_board
from trainer.repertoire.side import SIDE_NAMES
from trainer.repertoire.workshop.edits import Merge
from trainer.repertoire.workshop.merging import copy_repertoire
from trainer.repertoire.workshop.results import Merged, Removed
from trainer.repertoire.workshop.transaction import Transaction

#: Conflicts of a merge and places that could not be read, named one by one.
_NAMED = 5


@dataclass(frozen=True)
class SectionRow:
    """One section as the list shows it."""

    title: str
    moves: str
    begins: str


def section_rows(repertoire: Repertoire) -> list[SectionRow]:
    """A row for each section, in their order."""
    return [_row(section, repertoire.side) for section in repertoire.sections]


def _row(section: Section, side: chess.Color) -> SectionRow:
    own = sum(1 for edge in section.stands if edge.parent.turn == side)
    moves = count(len(section.stands), "move")
    if own:
        moves += f", {own:,} own"
    board = root_board(section)
    begins = "at the start" if board is None else f"at move {board.fullmove_number}"
    if board is not None and board.fullmove_number == 1:
        begins = "at a position"
    return SectionRow(section.title, moves, begins)


def written_title(section: Section) -> str:
    """The name as the player gave it; empty where it has none."""
    return "" if section.title == STARTING_TITLE else section.title


def deletion_question(titles: Sequence[str]) -> str:
    """The heading of the box."""
    return f"Delete “{titles[0]}”?" if len(titles) == 1 else f"Delete {len(titles):,} sections?"


def deletion_sentence(removed: Removed) -> str:
    """What goes with the sections."""
    if not removed.moves:
        return "All of their moves stand in other sections too, so no move goes."
    return (
        f"{count(removed.moves, 'move')} and {count(removed.positions, 'position')} go with it, "
        "all that no other section reaches. What others cross into stays."
    )


@dataclass(frozen=True)
class Arrival:
    """Another repertoire that could be merged: the edit, and what it would bring."""

    edit: Merge
    words: tuple[str, ...]
    brings: bool


def arrival(
    repertoire: Repertoire,
    other: LoadedRepertoire,
    notation: Notation,
    cancelled: Callable[[], bool] = lambda: False,
) -> Arrival:
    """Try a merge on a copy of the repertoire; for a worker thread.

    Raises `EditError` where the other one is for the other side.
    """
    edit = Merge.of(other.repertoire)
    copy = copy_repertoire(repertoire)
    if cancelled():
        raise StemlineError("The merge was given up.")
    merged = edit.apply(Transaction(copy))
    assert isinstance(merged, Merged)
    words = [_brings(merged)]
    words += [_dispute(copy, node, notation) for node in merged.conflicts[:_NAMED]]
    if len(merged.conflicts) > _NAMED:
        words.append(f"And {len(merged.conflicts) - _NAMED:,} more conflicts.")
    words += [
        f"Not read: game {one.game}, line {one.line}: {one.reason}"
        for one in other.skipped[:_NAMED]
    ]
    if len(other.skipped) > _NAMED:
        words.append(f"And {len(other.skipped) - _NAMED:,} more places were not read.")
    found = Arrival(edit, tuple(words), brings=bool(merged.sections or merged.added))
    copy.dismantle()
    return found


def _brings(merged: Merged) -> str:
    if not merged.sections and not merged.added:
        return "All that is in it is here already."
    said = (
        f"It brings {count(len(merged.added), 'new move')} in "
        f"{count(len(merged.sections), 'section')}; {merged.known:,} of its moves are known."
    )
    if merged.conflicts:
        verb = "prepares" if len(merged.conflicts) == 1 else "prepare"
        said += (
            f" {count(len(merged.conflicts), 'position')} then {verb} two main moves: ours stays "
            "in front, and they are listed among what is to be put right."
        )
    return said


def _dispute(repertoire: Repertoire, node: Node, notation: Notation) -> str:
    edges = order_of(repertoire, node) or ()
    origin = edges[0].parent if edges else node
    after = shown_order(repertoire, origin, [edge.san for edge in edges]).text(notation)
    names = [shown_san(edge.san, notation) for edge in repertoire.claims[node]]
    return f"After {after or 'the start'}: {names[0]} here, {', '.join(names[1:])} there."


def wrong_side(other: Repertoire, side: chess.Color) -> str:
    """The sentence where a repertoire cannot be merged, for its side is the other one."""
    return (
        f"It is a repertoire for {SIDE_NAMES[other.side]}, and the open one is for "
        f"{SIDE_NAMES[side]}; open it by itself instead."
    )
