"""A lesson as PGN with notes and signs, as EPD, and as pictures of its positions.

PGN Standard (Edwards, 1994): tags in sections 8.1 and 9, comments 5, variations 8.2.5, NAGs 10,
EPD 16.2.
"""

from __future__ import annotations

import chess
import chess.pgn

from trainer.lesson.handout.model import Heading, Lesson, Lines, Question, Text


def lesson_pgn(lesson: Lesson) -> str:
    """Every line and question of the lesson as one game each, with notes and NAGs.

    The text of the lesson stands as a comment before the first move that follows it.
    """
    games: list[str] = []
    waiting: list[str] = []
    heading = ""
    for item in lesson.items:
        if isinstance(item, Heading):
            heading = item.text
        elif isinstance(item, Text):
            waiting.append(item.text)
        elif isinstance(item, Lines):
            title = f"{lesson.title}: {heading}" if heading else lesson.title
            games.append(_exported(_game(lesson, title, item.board), item, waiting))
            waiting = []
        elif isinstance(item, Question):
            title = f"{lesson.title}: question {len(games) + 1}"
            games.append(_question(_game(lesson, title, item.board), item))
    if waiting:
        game = _game(lesson, lesson.title, chess.Board())
        game.comment = _safe(" ".join(waiting))
        games.append(_text(game))
    return "\n\n".join(games) + "\n" if games else ""


def lesson_epd(lesson: Lesson) -> str:
    """The positions as EPD, one a line, each with a number and, for a question, its best moves."""
    lines = []
    questions = {id(item.board): item for item in lesson.questions}
    for number, diagram in enumerate(lesson.diagrams(), start=1):
        text = diagram.board.epd(en_passant="legal")
        question = questions.get(id(diagram.board))
        if question is not None and question.accepted:
            text += f" bm {' '.join(map(question.board.san, question.accepted))};"
        if diagram.caption:
            text += f" c0 {_quoted(diagram.caption)};"
        lines.append(f"{text} id {_quoted(f'{lesson.title} {number}')};\n")
    return "".join(lines)


def _quoted(text: str) -> str:
    return '"' + " ".join(text.split()).replace('"', "'") + '"'


def _game(lesson: Lesson, title: str, board: chess.Board) -> chess.pgn.Game:
    game = chess.pgn.Game()
    game.headers["Event"] = title
    if lesson.date is not None:
        game.headers["Date"] = lesson.date.strftime("%Y.%m.%d")
    if lesson.coach:
        game.headers["Annotator"] = lesson.coach
    if board.fen() != chess.STARTING_FEN:
        game.setup(board)
    return game


def _exported(game: chess.pgn.Game, lines: Lines, waiting: list[str]) -> str:
    if waiting:
        game.comment = _safe(" ".join(waiting))
    for name, value in lines.tags:
        game.headers[name] = value
    nodes: list[chess.pgn.GameNode] = []
    for step in lines.steps:
        parent: chess.pgn.GameNode = game if step.parent is None else nodes[step.parent]
        node = parent.add_variation(
            step.move,
            comment=_safe(" ".join(step.comments)),
            starting_comment=_safe(" ".join(step.before)),
            nags=step.nags,
        )
        nodes.append(node)
    return _text(game)


def _question(game: chess.pgn.Game, question: Question) -> str:
    game.comment = _safe(" ".join((question.prompt, *question.hints)))
    for number, move in enumerate(question.accepted):
        comment = question.solution if number == 0 else ""
        game.add_variation(move, comment=_safe(comment))
    for move, why in question.wrong:
        game.add_variation(move, comment=_safe(why), nags=(chess.pgn.NAG_MISTAKE,))
    return _text(game)


def _text(game: chess.pgn.Game) -> str:
    exporter = chess.pgn.StringExporter(columns=79)
    return str(game.accept(exporter))


def _safe(text: str) -> str:
    """Braces do not nest in PGN."""
    return text.replace("{", "(").replace("}", ")")
