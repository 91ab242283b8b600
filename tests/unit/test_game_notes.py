"""What a coach makes of a game: drafts edited, moments in his words, both kept."""

from __future__ import annotations

import json
from pathlib import Path

import chess
import pytest

from trainer.errors import StemlineError
from trainer.lesson.facts import KeptFact, MomentFact, TrickFact
from trainer.lesson.game import LessonGame
from trainer.lesson.game_notes import (
    GameNotes,
    GameNotesError,
    edit_from_words,
    keep_notes,
    load_notes,
    notes_file,
    renewed,
)
from trainer.lesson.moments import Better, MomentError, moment_of
from trainer.lesson.narrate import Draft, narrate
from trainer.lesson.structure_file import load_structures
from trainer.lesson.trace import trace_of
from trainer.lesson.tricks import confirmed

BOOK = load_structures()
#: The queen takes on b2 and is trapped (common practice, no source).
MOVES = "d4 d5 Nc3 Nf6 Bf4 c6 e3 Qb6 a3 Qxb2 Na4"


def game_of(moves: str = MOVES) -> LessonGame:
    board = chess.Board()
    played = [board.push_san(san) for san in moves.split()]
    return LessonGame.of(chess.Board(), played, white="Ash", black="Elm", result="1-0")


def draft_of(game: LessonGame) -> Draft:
    better = [Better(10, (chess.Move.from_uci("c8f5"),), "White wins a queen.")]
    return narrate(game, BOOK, better=better)


def test_sentences_change_places_at_their_move_and_own_ones_go_further() -> None:
    draft = draft_of(game_of()).with_own(9, "First.").with_own(9, "Second.")
    number = next(n for n, one in enumerate(draft.sentences) if one.text == "Second.")
    up, there = draft.moved(number, -1)
    assert [one.text for one in up.at(9)][-2:] == ["Second.", "First."]
    down, there = up.moved(there, 1)
    assert down.sentences == draft.sentences
    further, there = draft.moved(number, 1)
    assert further.sentences[there].ply == 10
    assert len(further.sentences) == len(draft.sentences)
    # What was computed stands at its move.
    computed = next(n for n, one in enumerate(draft.sentences) if one.fact is not None)
    assert draft.moved(computed, -1)[0] is draft
    plies = [one.ply for one in further.sentences]
    assert plies == sorted(plies)


def test_a_draft_comes_back_as_it_was_left(tmp_path: Path) -> None:
    game = game_of()
    draft = draft_of(game).with_own(0, "Look at b2.")
    draft = draft.with_text(1, "In my words.").without(2)
    better = (Better(10, (chess.Move.from_uci("c8f5"),), "White wins a queen."),)
    notes = GameNotes("5b", better).with_draft(draft)
    keep_notes(tmp_path, game, notes)
    read = load_notes(tmp_path, game_of())
    assert read == notes
    again = read.restored(draft_of(game))
    assert [(one.text, one.ply, one.edited) for one in again.sentences] == [
        (one.text, one.ply, one.edited) for one in draft.sentences
    ]
    for one, other in zip(again.sentences, draft.sentences, strict=True):
        assert type(one.fact) is type(other.fact)
    # What is not computed any more keeps the words of then.
    bare = read.restored(narrate(game, BOOK))
    (kept,) = [one for one in bare.sentences if isinstance(one.fact, KeptFact)]
    assert kept.fact is not None
    assert "was better here" in kept.text
    assert "was not found again" in trace_of(game, kept.ply, kept.fact).text
    # Another game has none of it.
    assert load_notes(tmp_path, game_of("e4 e5")).empty


def test_drafting_anew_loses_nothing_of_the_coach() -> None:
    game = game_of()
    old = draft_of(game).with_own(9, "Mine.").with_text(0, "Changed.")
    fresh = renewed(old, narrate(game, BOOK))
    texts = [one.text for one in fresh.sentences]
    assert "Mine." in texts
    assert "Changed." in texts
    plies = [one.ply for one in fresh.sentences]
    assert plies == sorted(plies)


def test_what_the_engine_refuses_is_not_told() -> None:
    draft = draft_of(game_of())
    assert draft.tricks
    refused = [confirmed(one, lambda _trick: False) for one in draft.tricks]
    assert not draft.with_tricks(refused).tricks
    agreed = [confirmed(one, lambda _trick: True) for one in draft.tricks]
    told = draft.with_tricks(agreed)
    assert [one.confirmed for one in told.tricks] == [True] * len(agreed)
    # What a coach has made his own stays.
    number = next(n for n, one in enumerate(draft.sentences) if isinstance(one.fact, TrickFact))
    own = draft.with_text(number, "He cannot take.")
    assert "He cannot take." in [one.text for one in own.with_tricks(refused).sentences]


def test_every_trace_shows_the_board_of_its_fact() -> None:
    game = game_of()
    for one in draft_of(game).sentences:
        trace = trace_of(game, one.ply, one.fact)
        assert trace.text.endswith(".")
        if isinstance(one.fact, TrickFact):
            trick = one.fact.trick
            assert trick.taking is not None
            assert trace.arrows[0] == (trick.taking.from_square, trick.taking.to_square)
            assert trace.board.is_legal(trick.taking)
        if isinstance(one.fact, MomentFact):
            assert trace.board.board_fen() == game.boards[one.ply - 1].board_fen()
            assert trace.arrows == ((chess.C8, chess.F5),)


def test_moments_in_the_words_of_a_coach(tmp_path: Path) -> None:
    game = game_of()
    board = game.boards[9]
    edit = edit_from_words(
        board,
        10,
        right="Bf5, e6",
        hints="Not the pawn.\n\n Think of the knight. ",
        wrong="Qxb2: Na4 traps the queen.\nh6:",
        solution="b2 is guarded\nwithout being guarded.",
    )
    assert [board.san(move) for move in edit.accepted] == ["Bf5", "e6"]
    assert edit.hints == ("Not the pawn.", "Think of the knight.")
    assert [why for _, why in edit.wrong] == ["Na4 traps the queen.", ""]
    moment = edit.of(moment_of(game, 10))
    assert moment.solution == "b2 is guarded without being guarded."
    assert moment.question().answer().startswith("5…Bf5 (also e6). b2 is guarded")
    keep_notes(tmp_path, game, GameNotes("5b").with_edit(edit))
    assert load_notes(tmp_path, game).edit_of(10) == edit
    assert load_notes(tmp_path, game).without_edit(10).moments == ()


@pytest.mark.parametrize(
    ("right", "wrong", "reason"),
    [
        ("", "", "at least one right move"),
        ("Bz5", "", "“Bz5” is no move in this position"),
        ("Bf5", "Bf5: no.", "cannot be right and wrong"),
        ("Bf5", "O-O-O: no.", "“O-O-O” is no move"),
    ],
)
def test_words_that_cannot_be_read_are_told(right: str, wrong: str, reason: str) -> None:
    with pytest.raises(MomentError, match=reason):
        edit_from_words(game_of().boards[9], 10, right=right, hints="", wrong=wrong, solution="")


@pytest.mark.parametrize(
    "text",
    [
        "{broken",
        "[]",
        '{"sentences": 3}',
        '{"sentences": [{"ply": 99, "text": "x", "told": ""}]}',
        '{"moments": [{"ply": 1, "accepted": ["a1a5"], "hints": [], "wrong": []}]}',
        '{"better": [{"ply": 1, "best": ["zz"], "why": ""}]}',
    ],
)
def test_a_damaged_file_is_told_in_a_sentence(tmp_path: Path, text: str) -> None:
    path = notes_file(tmp_path, game_of())
    path.parent.mkdir()
    path.write_text(text, encoding="utf-8")
    with pytest.raises(GameNotesError, match="cannot be read"):
        load_notes(tmp_path, game_of())


def test_notes_that_cannot_be_written_are_told(tmp_path: Path) -> None:
    (tmp_path / "game-notes").write_text("in the way", encoding="utf-8")
    with pytest.raises(StemlineError, match="game-notes"):
        keep_notes(tmp_path, game_of(), GameNotes("5b"))
    assert load_notes(tmp_path, game_of()).empty


def test_a_game_without_notes_leaves_no_file(tmp_path: Path) -> None:
    keep_notes(tmp_path, game_of(), GameNotes())
    assert list(tmp_path.iterdir()) == []
    keep_notes(tmp_path, game_of(), GameNotes("5b"))
    values = json.loads(notes_file(tmp_path, game_of()).read_text("utf-8"))
    assert values["game"] == "Ash – Elm, 1-0"
