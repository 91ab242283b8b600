"""What the place Lesson looks up, off the thread of the window. No Qt."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import chess

from trainer.lesson.build import order_text
from trainer.lesson.features import Features, features
from trainer.lesson.game import LessonGame
from trainer.lesson.shares import StructureShare, structure_shares
from trainer.lesson.structure_file import load_structures
from trainer.lesson.structures import Found, StructureBook
from trainer.lesson.tricks import Trick, standing_tricks
from trainer.repertoire.workshop.games import games_in

if TYPE_CHECKING:
    from trainer.memory.course import Course
    from trainer.repertoire.graph import Node


@dataclass(frozen=True, eq=False)
class Structures:
    """The structures of a repertoire, those met most often first."""

    book: StructureBook
    shares: tuple[StructureShare, ...]
    side: chess.Color

    def share_at(self, board: chess.Board) -> StructureShare | None:
        """The structure that describes a position closest, where the repertoire has it."""
        for found in self.book.find(board):
            for share in self.shares:
                if share.found.key == found.key:
                    return share
        return None


@dataclass(frozen=True, eq=False)
class PositionFacts:
    """One position of a structure: where it is, how it is reached, what can be told of it."""

    board: chess.Board
    found: tuple[Found, ...]
    features: Features
    tricks: tuple[Trick, ...]
    order: str


@dataclass(frozen=True)
class GameTitle:
    """A game of a file, to be chosen: its number from 1, and what it is called."""

    number: int
    title: str


def find_structures(course: Course) -> Structures:
    """The structures of the open repertoire with their shares."""
    book = load_structures()
    shares = structure_shares(course.arrays, book, course.reply_weights)
    return Structures(book, tuple(shares), course.side)


def look_at(course: Course, node: Node, book: StructureBook) -> PositionFacts:
    """What can be told of a position of the repertoire."""
    board = node.board()
    return PositionFacts(
        board,
        book.find(board),
        features(board),
        tuple(standing_tricks(board)),
        order_text(course.repertoire, node),
    )


def titles_of(path: Path) -> list[GameTitle]:
    """The games of a file; those without moves are left out."""
    titles = []
    for game in games_in(path, 1, any_start=True):
        if not game.moves:
            continue
        names = [game.name(chess.WHITE) or "White", game.name(chess.BLACK) or "Black"]
        date = game.tags.get("Date", "").strip()
        when = "" if not date or date.startswith("?") else f", {date}"
        titles.append(GameTitle(game.number, f"{game.number}  {' – '.join(names)}{when}"))
    return titles


def outline(game: LessonGame) -> str:
    """The moves of a game as running text, to choose moments from."""
    words = []
    for ply, san in enumerate(game.sans, start=1):
        board = game.boards[ply - 1]
        words.append(f"{board.fullmove_number} {san}" if board.turn or ply == 1 else san)
    return " ".join(words)
