"""The draft of notes: every sentence against the fact it carries, every fact against the board."""

from __future__ import annotations

import chess
import pytest

from trainer.lesson.facts import (
    BreakFact,
    DepartureFact,
    EndFact,
    MomentFact,
    NoveltyFact,
    OpeningFact,
    ReentryFact,
    StructureFact,
    TrickFact,
)
from trainer.lesson.game import LessonGame, read_game
from trainer.lesson.moments import (
    Better,
    MomentError,
    MomentRun,
    Tried,
    hints_for,
    moment_of,
    moments_pgn,
    parse_plies,
)
from trainer.lesson.narrate import Draft, narrate
from trainer.lesson.structure_file import load_structures
from trainer.repertoire.openings import OpeningBook
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.resources import repertoire_path

BOOK = load_structures()
OPENINGS = OpeningBook.load()


def game_of(moves: str, **names: str) -> LessonGame:
    board = chess.Board()
    played = []
    for san in moves.split():
        played.append(board.push_san(san))
    return LessonGame.of(chess.Board(), played, **names)


def demo_draft(number: int) -> Draft:
    repertoire = read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire
    game = read_game(repertoire_path("demo-games.pgn"), number)
    return narrate(game, BOOK, openings=OPENINGS, repertoire=repertoire)


@pytest.mark.parametrize("number", [1, 2, 5])
def test_every_sentence_stands_on_a_fact_that_can_be_recomputed(number: int) -> None:
    draft = demo_draft(number)
    game = draft.game
    repertoire = read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire
    assert draft.sentences
    for one in draft.sentences:
        fact = one.fact
        assert fact is not None
        assert one.ply == fact.ply
        board = game.boards[fact.ply]
        match fact:
            case OpeningFact():
                assert OPENINGS.name_of(board) == fact.opening
                assert str(fact.opening) in one.text
            case StructureFact():
                keys = {found.key for found in BOOK.find(board)}
                assert (fact.found.key in keys) == fact.began
                assert fact.found.name in one.text
            case BreakFact():
                move = game.moves[fact.ply - 1]
                assert (move.from_square, move.to_square) == (
                    fact.played.start,
                    fact.played.target,
                )
                attacked = board.attacks(fact.played.target)
                assert set(fact.played.challenges) <= set(attacked)
            case TrickFact():
                assert fact.trick.taking is not None
                assert board.is_legal(fact.trick.taking)
            case DepartureFact():
                assert repertoire.node_at(board) is None
                before = repertoire.node_at(game.boards[fact.ply - 1])
                assert before is not None
                assert tuple(edge.san for edge in before.edges) == fact.known
            case ReentryFact():
                assert repertoire.node_at(board) is not None
            case EndFact():
                assert fact.result == game.result
            case _:
                raise AssertionError(fact)


def test_a_structure_a_departure_and_an_end_are_told() -> None:
    repertoire = read_repertoire_text('[RepertoireSide "White"]\n\n1. e4 e6 2. d4 d5 3. Nc3 *')
    game = game_of("e4 e6 d4 d5 e5 c5 c3 Nc6 Nf3 Qb6", result="1-0")
    draft = narrate(game, BOOK, openings=OPENINGS, repertoire=repertoire.repertoire)
    texts = [one.text for one in draft.sentences]
    assert "Here the player leaves the repertoire, where Nc3 was prepared." in texts
    assert any(text.startswith("The structure is now the French advance chain") for text in texts)
    assert texts[-1] == "White won."
    assert any("French Defense: Advance Variation" in text for text in texts)


def test_a_transposition_is_told_by_position() -> None:
    # From the opening table: 1 Nf3 Nf6 2 c4 e6 3 d4 is reached by 1 d4 as well.
    draft = narrate(game_of("Nf3 d5 d4 Nf6 c4 e6"), BOOK, openings=OPENINGS)
    told = [one.text for one in draft.sentences if isinstance(one.fact, OpeningFact)]
    assert any("it began as the" in text for text in told)


def test_what_others_know_is_passed_in() -> None:
    game = game_of("e4 e5 Qh5 Ke7 Qxe5#")
    better = Better(4, (chess.Move.from_uci("b8c6"),), "The king walks into a mate.")
    draft = narrate(game, BOOK, better=[better], novelty=NoveltyFact(3, 12), tricks=False)
    texts = [one.text for one in draft.sentences]
    assert "A moment: Nc6 was better here than Ke7. The king walks into a mate." in texts
    assert any("12 earlier games reached the position before" in text for text in texts)
    assert texts[-1] == "Mate."
    assert {type(one.fact) for one in draft.sentences} >= {MomentFact, NoveltyFact, EndFact}
    # What was played is no moment, however often it is said.
    again = Better(4, (game.moves[3],))
    assert len(narrate(game, BOOK, better=[again]).sentences) == 1


def test_the_trick_on_b2_is_told_and_that_it_was_taken() -> None:
    game = game_of("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 a3 Qxb2 Na4")
    draft = narrate(game, BOOK)
    (told,) = [one for one in draft.sentences if isinstance(one.fact, TrickFact)]
    assert told.ply == 9
    assert "the queen has no safe square" in told.text
    assert told.text.endswith("It was taken all the same.")


def test_a_coach_edits_the_draft_and_facts_stay() -> None:
    draft = demo_draft(1)
    first = draft.sentences[0]
    edited = draft.with_text(0, "  My own words. ")
    assert (edited.sentences[0].text, edited.sentences[0].edited) == ("My own words.", True)
    assert edited.sentences[0].fact is first.fact
    assert draft.sentences[0] is first
    shorter = edited.with_text(0, " ")
    assert len(shorter.sentences) == len(draft.sentences) - 1
    own = shorter.with_own(3, "Look here.")
    assert "Look here." in [one.text for one in own.at(3)]
    notes = [note for step in own.lines().steps for note in step.comments]
    assert "Look here." in notes


def test_a_moment_has_hints_answers_and_wrong_tries() -> None:
    game = game_of("d4 d5 Nc3 Nf6 Bf4 c5 e3 Qb6 a3 Nc6", white="Linden", black="Ash")
    moment = moment_of(game, 10)
    assert moment.board.fen() == game.boards[9].fen()
    assert moment.accepted == (chess.Move.from_uci("b8c6"),)
    assert moment.hints == ("A quiet move.", "The knight on b8 moves.", "It goes to the c-file.")
    (wrong,) = moment.wrong
    assert wrong[0] == chess.Move.from_uci("b6b2")
    assert "no safe square" in wrong[1]
    assert "Linden – Ash, move 5" in moment.prompt
    better = moment_of(game, 10, Better(10, (chess.Move.from_uci("c8f5"),), "it is slow."))
    assert better.wrong[0] == (chess.Move.from_uci("b8c6"), "it is slow.")


@pytest.mark.parametrize(
    ("fen", "uci", "kind"),
    [
        ("6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 1", "d1d8", "There is a mate."),
        ("6k1/5p1p/8/8/8/8/5PPP/3R2K1 w - - 0 1", "d1d8", "A move with check."),
        ("4k3/8/8/3n4/4P3/8/8/4K3 w - - 0 1", "e4d5", "Something is taken."),
        ("4k3/8/3p4/8/4P3/8/8/4K3 w - - 0 1", "e4e5", "A pawn break."),
    ],
)
def test_the_first_hint_names_the_kind_of_move(fen: str, uci: str, kind: str) -> None:
    assert hints_for(chess.Board(fen), chess.Move.from_uci(uci))[0] == kind


def test_moves_are_named_by_number_and_side() -> None:
    game = game_of("e4 e5 Nf3 Nc6 Bb5")
    assert parse_plies("2b, 1w 3w", game) == [1, 4, 5]
    for text, reason in (("3b", "no move 3b"), ("xw", "is no move"), ("12", "is no move")):
        with pytest.raises(MomentError, match=reason):
            parse_plies(text, game)
    with pytest.raises(MomentError, match="no half-move 9"):
        moment_of(game, 9)


def test_the_score_is_the_share_found_and_nothing_else() -> None:
    game = game_of("e4 e5 Nf3 Nc6 Bb5 a6")
    second = moment_of(game, 3, Better(3, (game.moves[2], chess.Move.from_uci("f1c4"))))
    run = MomentRun([moment_of(game, 1), second, moment_of(game, 5)])
    assert run.share() == 0.0
    assert run.hint() == "A quiet move."
    tried, text = run.answer(chess.Move.from_uci("d2d4"))
    assert (tried, text) == (Tried.WRONG, "Not d4. Look again.")
    # Found at the second try, it closes the moment but does not count.
    assert run.answer(game.moves[0])[0] is Tried.FOUND
    assert (run.found, run.closed) == (0, 1)
    tried, text = run.answer(chess.Move.from_uci("f1c4"))
    assert tried is Tried.ACCEPTED
    assert "main move is Nf3" in text
    assert run.give_up() == "3 Bb5."
    assert run.share() == pytest.approx(1 / 3)
    assert run.moment is None
    assert run.hint() == ""
    assert run.give_up() == ""
    with pytest.raises(MomentError):
        run.answer(game.moves[0])


def test_moments_are_kept_as_a_repertoire_to_be_drilled() -> None:
    game = game_of("e4 e5 Nf3 Nc6 Bb5 a6", white="Linden", black="Ash")
    moments = [moment_of(game, ply) for ply in (3, 4, 5)]
    text = moments_pgn(moments, chess.WHITE)
    loaded = read_repertoire_text(text)
    assert loaded.skipped == []
    assert loaded.repertoire.side == chess.WHITE
    keys = {node.board().board_fen() for node in loaded.repertoire.decisions()}
    assert keys == {game.boards[2].board_fen(), game.boards[4].board_fen()}
    assert moments_pgn([], chess.WHITE) == ""
