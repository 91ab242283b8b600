"""Structures of games, the drill of breaks, plan notes, and moments that are kept."""

from __future__ import annotations

import json
import random
from pathlib import Path

import chess
import chess.pgn
import pytest

from trainer.errors import RepertoireFileError
from trainer.lesson.break_drill import BreakRun, Kind, break_questions
from trainer.lesson.breaks import breaks
from trainer.lesson.game import LessonGame
from trainer.lesson.games import GameCounter, games_of, structures_of_games
from trainer.lesson.handout.model import Diagram, Lesson, Paper, Text
from trainer.lesson.handout.pdf import lesson_page
from trainer.lesson.keeping import keep_moments
from trainer.lesson.moments import moment_of
from trainer.lesson.plans import PlanNotes, PlanNotesError
from trainer.lesson.report import games_report, games_text, shares_report, shares_text
from trainer.lesson.shares import structure_shares
from trainer.lesson.structure_file import load_structures
from trainer.lesson.trick_drill import trick_moment, tricks_of
from trainer.notation.display import percent
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.resources import repertoire_path

BOOK = load_structures()
GAMES = repertoire_path("demo-games.pgn")
FRENCH = '[RepertoireSide "Black"]\n\n1. e4 e6 2. d4 d5 3. e5 c5 4. c3 Nc6 5. Nf3 Bd7 6. Be2 f6 *'


def test_structures_of_games_against_a_plain_count() -> None:
    found = {one.found.key: one for one in structures_of_games([GAMES], BOOK)}
    counts: dict[str, int] = {}
    total = 0
    with GAMES.open(encoding="utf-8") as stream:
        while (game := chess.pgn.read_game(stream)) is not None:
            if not game.mainline_moves():
                continue
            total += 1
            board = game.board()
            lengths: dict[str, int] = {}
            for move in list(game.mainline_moves())[:80]:
                board.push(move)
                for one in BOOK.find(board):
                    lengths[one.key] = lengths.get(one.key, 0) + 1
            for key, length in lengths.items():
                if length >= 4:
                    counts[key] = counts.get(key, 0) + 1
    assert {key: len(one.games) for key, one in found.items()} == counts
    assert {one.total for one in found.values()} == {total}


def test_only_the_games_that_are_wanted_count() -> None:
    counter = GameCounter(BOOK, lambda white, _black: white == "Linden, Mara")
    for path, game in games_of([GAMES]):
        counter.take(path, game)
    found = counter.result()
    assert found
    assert all(place.players.startswith("Linden, Mara") for place in found[0].games)
    text = games_text(found)
    assert f"{len(found[0].games)} of {found[0].total} games" in text
    assert games_report(found)["games"] == found[0].total
    with pytest.raises(RepertoireFileError):
        list(games_of([GAMES.with_name("nowhere.pgn")]))


@pytest.mark.parametrize(
    ("share", "text"), [(0.873, "87 %"), (0.004, "0.4 %"), (0.0001, "under 0.1 %"), (0, "0 %")]
)
def test_shares_are_never_rounded_to_nothing(share: float, text: str) -> None:
    assert percent(share) == text


def test_a_structure_is_shown_and_its_break_asked_for() -> None:
    repertoire = read_repertoire_text(FRENCH).repertoire
    shares = structure_shares(RepertoireArrays.compile(repertoire), BOOK)
    assert "French advance chain (french-advance)" in shares_text(shares)
    assert shares_report(shares)["structures"]
    questions = break_questions(shares, chess.BLACK, most=12, rng=random.Random(1))
    assert questions
    for question in questions:
        legal = {(one.start, one.target) for one in breaks(question.board, chess.BLACK) if one.now}
        assert {(one.start, one.target) for one in question.usual} <= legal
        assert all(one.target in (chess.C5, chess.F6) for one in question.usual)
    run = BreakRun(questions)
    question = questions[0]
    assert question.hint().startswith("Look at the ")
    knight = next(
        move
        for move in question.board.legal_moves
        if question.board.piece_type_at(move.from_square) == chess.KNIGHT
    )
    assert run.answer(knight)[0] is Kind.NONE
    other = next((one for one in question.others), None)
    if other is not None:
        assert run.answer(chess.Move(other.start, other.target))[0] is Kind.OTHER
    usual = question.usual[0]
    assert run.answer(chess.Move(usual.start, usual.target))[0] is Kind.USUAL
    assert (run.found, run.closed) == (0, 1)
    while run.question is not None:
        assert run.give_up().startswith("The usual break: ")
    assert run.closed == len(questions)
    assert run.give_up() == ""


def test_plan_notes_are_kept_and_taken_away(tmp_path: Path) -> None:
    path = tmp_path / "data" / "plans.json"
    notes = PlanNotes(path)
    board = chess.Board("6k1/pp3ppp/4p3/2ppP3/3P4/2P5/PP3PPP/6K1 w - - 0 1")
    (found,) = BOOK.find(board)
    assert notes.at(board, BOOK) == []
    notes.keep(found, "  Hold the chain.\n")
    assert PlanNotes(path).at(board, BOOK) == ["Hold the chain."]
    assert json.loads(path.read_text(encoding="utf-8")) == {"french-advance": "Hold the chain."}
    notes.keep(found, " ")
    assert PlanNotes(path).of(found) == ""


@pytest.mark.parametrize("text", ["{", "[1]", '{"slav": 3}'])
def test_damaged_plan_notes_are_told_in_a_sentence(tmp_path: Path, text: str) -> None:
    path = tmp_path / "plans.json"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(PlanNotesError, match=r"mend the file or move it away"):
        PlanNotes(path)


def test_a_note_that_cannot_be_written_is_told_and_the_one_before_stands(tmp_path: Path) -> None:
    path = tmp_path / "plans.json"
    notes = PlanNotes(path)
    found = BOOK.find(chess.Board("6k1/8/4p3/3pP3/3P4/8/8/6K1 w - - 0 1"))[0]
    notes.keep(found, "First.")
    path.unlink()
    path.mkdir()
    with pytest.raises(PlanNotesError, match="cannot be written"):
        notes.keep(found, "Second.")
    assert notes.of(found) == "First."


def test_kept_moments_are_added_once_and_a_damaged_file_is_not_overwritten(tmp_path: Path) -> None:
    board = chess.Board()
    moves = [board.push_san(san) for san in ("e4", "e5", "Nf3", "Nc6", "Bb5")]
    game = LessonGame.of(chess.Board(), moves)
    first = keep_moments(tmp_path, [moment_of(game, 3)])
    assert [path.name for path in first] == ["moments-white.pgn"]
    both = keep_moments(tmp_path, [moment_of(game, ply) for ply in (3, 4, 5)])
    assert [path.name for path in both] == ["moments-white.pgn", "moments-black.pgn"]
    white = read_repertoire(both[0])
    assert (len(white.repertoire.sections), white.skipped) == (2, [])
    assert len(read_repertoire(both[1]).repertoire.decisions()) == 1
    both[0].write_bytes(b"\0\1\2")
    with pytest.raises(RepertoireFileError, match="not a text file"):
        keep_moments(tmp_path, [moment_of(game, 1)])
    assert both[0].read_bytes() == b"\0\1\2"


def test_a_page_is_painted_as_wide_as_wanted() -> None:
    board = chess.Board()
    lesson = Lesson("Pages", (Text("One."), *(Diagram(board) for _ in range(20))))
    for paper in Paper:
        picture, pages = lesson_page(lesson, paper, page=0, width=400)
        assert picture.startswith(b"\x89PNG")
        assert int.from_bytes(picture[16:20], "big") == 400
        assert pages > 1
        last = lesson_page(lesson, paper, page=99, width=400)
        assert last[0] == lesson_page(lesson, paper, page=pages - 1, width=400)[0]
        assert last[0] != picture


def test_tricks_of_positions_are_asked_once_each() -> None:
    text = (
        '[RepertoireSide "White"]\n\n1. d4 d5 2. Nc3 Nf6 3. Bf4 c5 4. e3 Qb6 5. a3 c4 '
        "(5... e6 6. Nf3) (5... Nc6 6. Nf3) *"
    )
    nodes = list(read_repertoire_text(text).repertoire.nodes.values())
    moments = [trick_moment(one) for one in tricks_of(nodes, chess.WHITE, most=5)]
    asked = [moment for moment in moments if moment.source == "…Qxb2 was played"]
    assert len(asked) == 1
    (moment,) = asked
    assert moment.board.turn == chess.WHITE
    assert moment.accepted == (chess.Move.from_uci("c3a4"),)
    assert "no safe square" in moment.solution
    assert len(tricks_of(nodes, chess.WHITE, most=1)) == 1
    assert tricks_of(nodes, chess.WHITE, most=5, cancelled=lambda: True) == []
