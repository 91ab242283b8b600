"""Reading and writing, held to the PGN Standard (S. J. Edwards, 1994-03-12)."""

from __future__ import annotations

import io

import chess
import chess.pgn
import pytest

from trainer.notation.fastboard import FastBoard
from trainer.repertoire.reader import read_repertoire_text
from trainer.repertoire.writer import repertoire_pgn

# Section 2.3, the movetext of the sample game, line by line as printed there.
SAMPLE_MOVETEXT = """\
1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 4. Ba4 Nf6 5. O-O Be7 6. Re1 b5 7. Bb3 d6 8. c3
O-O 9. h3 Nb8 10. d4 Nbd7 11. c4 c6 12. cxb5 axb5 13. Nc3 Bb7 14. Bg5 b4 15.
Nb1 h6 16. Bh4 c5 17. dxe5 Nxe4 18. Bxe7 Qxe7 19. exd6 Qf6 20. Nbd2 Nxd6 21.
Nc4 Nxc4 22. Bxc4 Nb6 23. Ne5 Rae8 24. Bxf7+ Rxf7 25. Nxf7 Rxe1+ 26. Qxe1 Kxf7
27. Qe3 Qg5 28. Qxg5 hxg5 29. b3 Ke6 30. a3 Kd6 31. axb4 cxb4 32. Ra5 Nd5 33.
f3 Bc8 34. Kf2 Bf5 35. Ra7 g6 36. Ra6+ Kc5 37. Ke1 Nf4 38. g3 Nxh3 39. Kd2 Kb5
40. Rd6 Kc5 41. Ra6 Nf2 42. g4 Bd3 43. Re6 1/2-1/2
"""
SAMPLE = f'[Event "Sample"]\n[Result "1/2-1/2"]\n\n{SAMPLE_MOVETEXT}'


def test_the_sample_game_is_read_to_its_end() -> None:
    loaded = read_repertoire_text(SAMPLE)
    assert loaded.skipped == []
    assert len(loaded.repertoire.sections[0].stands) == 85
    last = list(loaded.repertoire.sections[0].stands)[-1]
    # The final position, computed with python-chess 1.11.2 (without its move counters).
    assert last.child.board().epd() == "8/8/4R1p1/2k3p1/1p4P1/1P1b1P2/3K1n2/8 b - -"


def test_the_sample_game_is_written_byte_for_byte() -> None:
    """Section 8.2: lines under 80 characters, filled greedily, as the sample game shows."""
    text = repertoire_pgn(read_repertoire_text(SAMPLE).repertoire)
    assert text.split("\n\n", 1)[1] == SAMPLE_MOVETEXT


def test_tags_stand_in_the_order_of_the_standard() -> None:
    """Section 8.1.1: the seven tag roster, then the others in ASCII order, one empty line."""
    text = repertoire_pgn(
        read_repertoire_text(
            '[annotator "small"]\n[White "W"]\n[ECO "A00"]\n[Event "E"]\n[Annotator "A"]\n\n'
            "1. e4 *"
        ).repertoire
    )
    tags, movetext = text.split("\n\n")
    names = [line.split(" ")[0][1:] for line in tags.split("\n")]
    assert names == [
        *("Event", "Site", "Date", "Round", "White", "Black", "Result"),
        *("Annotator", "ECO", "RepertoireSide", "annotator"),
    ]
    assert movetext == "1. e4 *\n"


@pytest.mark.parametrize("result", ["1-0", "0-1", "1/2-1/2", "*"])
def test_the_result_tag_matches_the_end_mark(result: str) -> None:
    """Section 8.1.1.7."""
    text = repertoire_pgn(read_repertoire_text(f"1. e4 {result}").repertoire)
    game = chess.pgn.read_game(io.StringIO(text))
    assert game is not None
    assert game.headers["Result"] == result
    assert text.split()[-1] == result


@pytest.mark.parametrize(
    ("suffix", "number"), [("!", 1), ("?", 2), ("!!", 3), ("??", 4), ("!?", 5), ("?!", 6)]
)
def test_suffixes_are_annotation_glyphs(suffix: str, number: int) -> None:
    """Section 8.2.3.8 and the table of section 10."""
    repertoire = read_repertoire_text(f"1. e4{suffix} e5 {suffix} *").repertoire
    assert [edge.nags for edge in repertoire.edges()] == [(number,), (number,)]
    assert f"1. e4 ${number} e5 ${number} *" in repertoire_pgn(repertoire)


def test_all_annotation_glyphs_survive() -> None:
    """Section 10: 0 to 255."""
    glyphs = " ".join(f"${number}" for number in range(256))
    loaded = read_repertoire_text(f"1. e4 {glyphs} *")
    assert loaded.skipped == []
    again = read_repertoire_text(repertoire_pgn(loaded.repertoire)).repertoire
    assert next(again.edges()).nags == tuple(range(256))
    assert len(read_repertoire_text("1. e4 $256 *").skipped) == 1


def test_disambiguation_leaves_pinned_pieces_out() -> None:
    """Section 8.2.3.4: knights on c3 and g1, with and without a bishop that pins one."""
    both = FastBoard.from_board(chess.Board("4k3/8/8/8/8/2N5/8/4K1N1 w - - 0 1"))
    assert both.san(chess.Move.from_uci("c3e2")) == "Nce2"
    assert both.san(chess.Move.from_uci("g1e2")) == "Nge2"
    pinned = FastBoard.from_board(chess.Board("4k3/8/8/8/1b6/2N5/8/4K1N1 w - - 0 1"))
    assert pinned.san(chess.Move.from_uci("g1e2")) == "Ne2"
    assert pinned.resolve("Ne2") == chess.Move.from_uci("g1e2")
    assert pinned.resolve("Nge2") == chess.Move.from_uci("g1e2")


def test_disambiguation_prefers_the_file_then_the_rank_then_the_square() -> None:
    """Section 8.2.3.4."""
    queens = FastBoard.from_board(chess.Board("6k1/8/8/8/Q6Q/8/8/K6Q w - - 0 1"))
    assert queens.san(chess.Move.from_uci("a4e4")) == "Qae4"
    assert queens.san(chess.Move.from_uci("h4e4")) == "Qh4e4"
    assert queens.san(chess.Move.from_uci("h1e4")) == "Q1e4"


@pytest.mark.parametrize(
    ("moves", "fen"),
    [
        # Section 16.1.4.
        ("1. e4", "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq e3 0 1"),
        ("1. e4 c5", "rnbqkbnr/pp1ppppp/8/2p5/4P3/8/PPPP1PPP/RNBQKBNR w KQkq c6 0 2"),
        ("1. e4 c5 2. Nf3", "rnbqkbnr/pp1ppppp/8/2p5/4P3/5N2/PPPP1PPP/RNBQKB1R b KQkq - 1 2"),
    ],
)
def test_positions_of_the_standard(moves: str, fen: str) -> None:
    repertoire = read_repertoire_text(f"{moves} *").repertoire
    node = repertoire.node_at(chess.Board(fen))
    assert node is not None
    assert node.edges == []


def test_an_empty_file_is_a_valid_file_of_no_games() -> None:
    assert read_repertoire_text("").repertoire.sections == []


def test_long_import_lines_are_read() -> None:
    """Section 4.3: lines of up to 255 characters, and here well beyond."""
    loaded = read_repertoire_text("1. e4 {" + "word " * 5000 + "} " + " " * 9000 + "e5 *")
    assert [edge.san for edge in loaded.repertoire.edges()] == ["e4", "e5"]
