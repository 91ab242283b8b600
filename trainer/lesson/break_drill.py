"""Show a structure and ask for its break: no memory model, only positions of the repertoire."""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import StrEnum

import chess

from trainer.lesson.breaks import Break, breaks
from trainer.lesson.report import break_text
from trainer.lesson.shares import StructureShare
from trainer.lesson.structures import Found
from trainer.notation.display import sentence_list
from trainer.repertoire.graph import Node


@dataclass(frozen=True, eq=False)
class BreakQuestion:
    """A position of the repertoire with the player to move and a usual break that he can make.

    `usual` are those breaks, `others` pawn breaks of his that are possible as well.
    """

    node: Node
    board: chess.Board
    found: Found
    usual: tuple[Break, ...]
    others: tuple[Break, ...]

    def hint(self) -> str:
        """Which file the break is on."""
        names = sorted({chess.FILE_NAMES[chess.square_file(one.target)] for one in self.usual})
        return f"Look at the {sentence_list(f'{name}-file' for name in names)}."

    def answer(self) -> str:
        """The usual breaks in words, with what stands for and against them."""
        return "; ".join(break_text(one) for one in self.usual) + "."


class Kind(StrEnum):
    """What became of an answer."""

    USUAL = "usual"
    OTHER = "other"
    NONE = "none"


def break_questions(
    shares: Sequence[StructureShare], side: chess.Color, *, most: int, rng: random.Random
) -> list[BreakQuestion]:
    """Up to `most` questions, one structure after the other, those met most often first."""
    by_structure = []
    for share in shares:
        nodes = [node for node in share.nodes if node.turn == side]
        rng.shuffle(nodes)
        by_structure.append((share.found, nodes))
    questions: list[BreakQuestion] = []
    seen: set[int] = set()
    while len(questions) < most and any(nodes for _, nodes in by_structure):
        for found, nodes in by_structure:
            while nodes:
                node = nodes.pop()
                question = None if node.key in seen else _question(node, found, side)
                if question is not None:
                    seen.add(node.key)
                    questions.append(question)
                    break
    return questions[:most]


def _question(node: Node, found: Found, side: chess.Color) -> BreakQuestion | None:
    board = node.board()
    now = [one for one in breaks(board, side) if one.now]
    usual = tuple(one for one in now if one.target in found.breaks(side) and not one.loses)
    if not usual:
        return None
    return BreakQuestion(node, board, found, usual, tuple(one for one in now if one not in usual))


@dataclass
class BreakRun:
    """The questions being asked; the score is only the share found at the first try."""

    questions: Sequence[BreakQuestion]
    number: int = 0
    found: int = 0
    closed: int = 0
    _missed: bool = field(default=False, repr=False)

    @property
    def question(self) -> BreakQuestion | None:
        """The one that is asked, None at the end."""
        return self.questions[self.number] if self.number < len(self.questions) else None

    def answer(self, move: chess.Move) -> tuple[Kind, str]:
        """What a legal move is, and the sentence to show. A usual break closes the question."""
        question = self.question
        assert question is not None
        squares = (move.from_square, move.to_square)
        for one in question.usual:
            if (one.start, one.target) == squares:
                self._close(found=not self._missed)
                return Kind.USUAL, f"That is the break: {break_text(one)}."
        self._missed = True
        for one in question.others:
            if (one.start, one.target) == squares:
                return Kind.OTHER, f"A break, but not the usual one: {break_text(one)}."
        san = question.board.san(move)
        return Kind.NONE, f"{san} challenges no pawn chain. Look again."

    def give_up(self) -> str:
        """Close the question as not found; the answer in a sentence."""
        question = self.question
        if question is None:
            return ""
        self._close(found=False)
        return f"The usual break: {question.answer()}"

    def _close(self, *, found: bool) -> None:
        self.found += found
        self.closed += 1
        self.number += 1
        self._missed = False
