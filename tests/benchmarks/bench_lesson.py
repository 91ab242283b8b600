"""Lessons: diagrams and pages, structures over a repertoire, tricks of a position."""

from __future__ import annotations

import time
from collections.abc import Callable

import chess

from tests.benchmarks.figures import Figure
from trainer.lesson.game import read_game
from trainer.lesson.handout.model import Diagram, Lesson
from trainer.lesson.handout.paint import DiagramPainter
from trainer.lesson.handout.pdf import lesson_pdf
from trainer.lesson.model_index import PLIES
from trainer.lesson.shares import structure_shares
from trainer.lesson.standing import stood_in
from trainer.lesson.structure_file import load_structures
from trainer.lesson.tricks import standing_tricks
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.reader import read_repertoire
from trainer.resources import repertoire_path

_DIAGRAMS = 50


def measure() -> list[Figure]:
    """Seconds for 50 diagrams as pictures and in a PDF file, and for what the window asks for."""
    game = read_game(repertoire_path("demo-games.pgn"), 2)
    boards = [board for board in game.boards if not board.is_game_over()][:_DIAGRAMS]
    arrows = ((chess.E2, chess.E4), (chess.E7, chess.E5))
    diagrams = [Diagram(board, arrows=arrows) for board in boards]

    def pictures() -> None:
        painter = DiagramPainter()
        for diagram in diagrams:
            painter.png(diagram, 480)

    repertoire = read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    book = load_structures()
    painted = _seconds(pictures)
    printed = _seconds(lambda: lesson_pdf(Lesson("Diagrams", tuple(diagrams))))
    shared = _seconds(lambda: structure_shares(arrays, book))
    games = [read_game(repertoire_path("demo-games.pgn"), number) for number in range(1, 31)]
    stood = _seconds(lambda: [stood_in(one.moves[:PLIES], book) for one in games]) / len(games)
    tricks = _seconds(lambda: [standing_tricks(board) for board in boards]) / len(boards)
    return [
        _figure("lesson: 50 diagrams as PNG of 480 pixels", painted, 2.0),
        _figure("lesson: 50 diagrams in a PDF file", printed, 2.0),
        _figure("lesson: structures of the demo repertoire", shared, 1.0),
        _figure("lesson: structures of one game for the index of a base, mean of 30", stood, 0.01),
        _figure("lesson: tricks of a position, mean of 50", tricks, 0.25),
    ]


def _figure(name: str, value: float, goal: float) -> Figure:
    return Figure(name, value, "s", goal=f"under {goal} s", met=value < goal)


def _seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin
