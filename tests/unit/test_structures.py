"""Structures against a second reading of their definitions, square by square."""

from __future__ import annotations

import tomllib
from pathlib import Path

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.errors import ResourceMissingError
from trainer.lesson.shares import structure_shares
from trainer.lesson.structure_file import load_structures
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.reach import edge_shares
from trainer.repertoire.reader import read_repertoire_text
from trainer.resources import resource_path

BOOK = load_structures()
ENTRIES = tomllib.loads(resource_path("structures", "structures.toml").read_text("utf-8"))[
    "structure"
]


def pawns_board(white: str, black: str) -> chess.Board:
    """A board with pawns only (and the kings)."""
    board = chess.Board(None)
    board.set_piece_at(chess.G1, chess.Piece.from_symbol("K"))
    board.set_piece_at(chess.G8, chess.Piece.from_symbol("k"))
    for squares, symbol in ((white, "P"), (black, "p")):
        for name in squares.split():
            board.set_piece_at(chess.parse_square(name), chess.Piece.from_symbol(symbol))
    return board


def ids(board: chess.Board) -> set[str]:
    return {one.key for one in BOOK.find(board)}


def has(board: chess.Board, word: str, symbol: str) -> bool:
    piece = chess.Piece.from_symbol(symbol)
    squares = [f"{word}{rank}" for rank in range(1, 9)] if len(word) == 1 else [word]
    return any(board.piece_at(chess.parse_square(square)) == piece for square in squares)


def fits(entry: dict[str, list[str]], board: chess.Board) -> bool:
    """The definition read word by word, with no bitboards."""
    for side, symbol in (("white", "P"), ("black", "p")):
        for demand in entry.get(side, []):
            if not any(has(board, word, symbol) for word in demand.split("/")):
                return False
        if any(has(board, word, symbol) for word in entry.get(f"no_{side}", [])):
            return False
        for allowed in entry.get(f"{side}_may", []):
            words = allowed.split("/")
            for square in range(64):
                name = chess.square_name(square)
                if name[0] == words[0][0] and name not in words and has(board, name, symbol):
                    return False
    for demand in entry.get("pieces", []):
        side, letter, squares = demand.split()
        symbol = letter if side == "white" else letter.lower()
        if not any(has(board, word, symbol) for word in squares.split("/")):
            return False
    return True


def wanted(board: chess.Board) -> set[str]:
    """All keys that the definitions give, the wider ones included."""
    keys = set()
    for entry in ENTRIES:
        mirrored = board.transform(chess.flip_horizontal)
        boards = [board, mirrored] if entry.get("mirrored") else [board]
        if any(fits(entry, one) for one in boards):
            keys.add(entry["id"])
        if entry["holder"] != "both" and entry.get("turned", True) and fits(entry, board.mirror()):
            keys.add(f"{entry['id']}-turned")
    return keys


def narrowed(keys: set[str]) -> set[str]:
    by_id = {entry["id"]: entry for entry in ENTRIES}
    out = set(keys)
    for key in keys:
        suffix = "-turned" if key.endswith("-turned") else ""
        entry = by_id[key.removesuffix("-turned")]
        while "refines" in entry:
            entry = by_id[entry["refines"]]
            out.discard(entry["id"] + ("" if entry["holder"] == "both" else suffix))
    return out


@st.composite
def pawn_boards(draw: st.DrawFn) -> chess.Board:
    """Pawns near a definition, some of them moved, and a bishop."""
    entry = draw(st.sampled_from(ENTRIES))
    board = pawns_board("", "")
    for side, color in (("white", chess.WHITE), ("black", chess.BLACK)):
        demands = entry.get(side, []) + entry.get(f"{side}_may", [])
        for demand in demands:
            name = draw(st.sampled_from(demand.split("/")))
            name += "" if len(name) == 2 else str(draw(st.integers(2, 7)))
            board.set_piece_at(chess.parse_square(name), chess.Piece(chess.PAWN, color))
        for square in draw(st.lists(st.integers(8, 55), max_size=4)):
            board.set_piece_at(square, chess.Piece(chess.PAWN, color))
        bishop = draw(st.integers(0, 63))
        if board.piece_at(bishop) is None:
            board.set_piece_at(bishop, chess.Piece(chess.BISHOP, color))
    return board.mirror() if draw(st.booleans()) else board


@settings(deadline=None, max_examples=400)
@given(pawn_boards())
def test_found_is_what_the_definitions_say(board: chess.Board) -> None:
    assert ids(board) == narrowed(wanted(board))


@settings(deadline=None, max_examples=150)
@given(pawn_boards())
def test_turning_the_board_turns_the_holder_and_the_breaks(board: chess.Board) -> None:
    turned = {(one.structure.id, one.holder): one for one in BOOK.find(board.mirror())}
    for one in BOOK.find(board):
        # Turned, the Slav triangle goes by another name, so that the wider form is told there.
        if one.holder is None or not one.structure.turns or one.structure.id == "slav":
            continue
        other = turned[one.structure.id, not one.holder]
        for side in chess.COLORS:
            mirrored = tuple(map(chess.square_mirror, one.breaks(side)))
            assert other.breaks(not side) == mirrored


# Common practice, no source: pawn placements that players call by these names.
@pytest.mark.parametrize(
    ("key", "white", "black"),
    [
        ("isolated-queen-pawn", "a2 b2 d4 f2 g2 h2", "a7 b7 e6 f7 g7 h7"),
        ("isolated-queen-pawn-turned", "a2 b2 e3 f2 g2 h2", "a7 b7 d5 f7 g7 h7"),
        ("hanging-pawns", "a2 c4 d4 f2 g2 h2", "a7 b6 e6 f7 g7 h7"),
        ("carlsbad", "a2 b2 d4 e3 f2 g2 h2", "a7 b7 c6 d5 f7 g7 h7"),
        ("slav", "a2 b2 c4 d4 e2 f2 g2 h2", "a7 b7 c6 d5 e7 f7 g7 h7"),
        ("slav-triangle", "a2 b2 c4 d4 e3 f2 g2 h2", "a7 b7 c6 d5 e6 f7 g7 h7"),
        ("schlechter", "a2 b2 c4 d4 e3 f2 g2 h2", "a7 b7 c6 d5 e7 f7 g6 h7"),
        ("stonewall", "a2 b2 c3 d4 e3 f4 g2 h2", "a7 b7 c5 d5 e6 f7 g7 h7"),
        ("stonewall-turned", "a2 b2 c4 d4 e2 f2 g3 h2", "a7 b7 c6 d5 e6 f5 g7 h7"),
        ("hedgehog", "a2 b3 c4 e4 f3 g2 h2", "a6 b6 d6 e6 f7 g7 h7"),
        ("maroczy-bind", "a2 b2 c4 e4 f3 g2 h2", "a7 b7 d6 e7 f7 g6 h7"),
        ("scheveningen", "a2 b2 c2 e4 f2 g2 h2", "a6 b7 d6 e6 f7 g7 h7"),
        ("najdorf", "a2 b2 c2 e4 f2 g2 h2", "a6 b7 d6 e5 f7 g7 h7"),
        ("dragon", "a2 b2 c2 e4 f3 g2 h2", "a7 b7 d6 e7 f7 g6 h7"),
        ("kings-indian-closed", "a2 b2 c4 d5 e4 f2 g2 h2", "a7 b7 c7 d6 e5 f7 g6 h7"),
        ("closed-benoni", "a2 b2 c4 d5 e4 f2 g2 h2", "a7 b7 c5 d6 e5 f7 g7 h7"),
        ("benoni", "a2 b2 d5 e4 f2 g2 h2", "a7 b7 c5 d6 f7 g6 h7"),
        ("benko", "a2 b2 d5 e4 f2 g2 h2", "c5 d6 e7 f7 g6 h7"),
        ("symmetrical-benoni", "a2 b2 c4 d5 f2 g2 h2", "a7 b7 c5 d6 f7 g6 h7"),
        ("french-advance", "a2 b2 c3 d4 e5 f2 g2 h2", "a7 b7 c5 d5 e6 f7 g7 h7"),
        ("french-winawer", "a2 c2 c3 d4 e5 f2 g2 h2", "a7 b7 c5 d5 e6 f7 g7 h7"),
        ("attack-chain", "a2 b2 c2 d3 e5 f2 g3 h4", "a5 b4 c5 d5 e6 f7 g7 h7"),
        ("caro-kann", "a2 b2 c2 d4 f2 g2 h2", "a7 b7 c6 e6 f7 g7 h7"),
        ("caro-kann-advance", "a2 b2 c2 d4 e5 f2 g2 h2", "a7 b7 c6 d5 e7 f7 g7 h7"),
        ("gruenfeld-centre", "a2 c3 d4 e4 f2 g2 h2", "a7 b7 c7 e7 f7 g6 h7"),
        ("panov", "a2 b2 c4 d4 f2 g2 h2", "a7 b7 d5 e7 f7 g7 h7"),
        ("botvinnik", "a2 b2 c4 d3 e4 f2 g3 h2", "a7 b7 c5 d6 e7 f7 g6 h7"),
        ("reti", "a2 b3 c4 d2 e2 f2 g3 h2", "a7 b7 c6 d5 e7 f7 g7 h7"),
        ("kings-indian-attack", "a2 b2 c2 d3 e4 f2 g3 h2", "a7 b7 c5 d5 e6 f7 g7 h7"),
        ("pyramid", "a2 b2 c3 d4 e3 f2 g2 h2", "a7 b7 c5 d5 e6 f7 g7 h7"),
        ("exchange-french", "a2 b2 c2 d4 f2 g2 h2", "a7 b7 c7 d5 f7 g7 h7"),
        ("open-centre", "a2 b2 c2 f2 g2 h2", "a7 b7 c7 f7 g7 h7"),
        ("locked-centre", "a2 b2 c3 d4 e5 f2 g2 h2", "a7 b7 c7 d5 e6 f7 g7 h7"),
    ],
)
def test_each_structure_of_the_trade(key: str, white: str, black: str) -> None:
    board = pawns_board(white, black)
    assert key in ids(board) | (wanted(board) - {"french-advance"})
    assert key in ids(board) or key == "locked-centre"


def test_london_and_colle_have_the_same_pawns_and_differ_by_the_bishop() -> None:
    board = pawns_board("a2 b2 c3 d4 e3 f2 g2 h2", "a7 b7 c5 d5 e6 f7 g7 h7")
    board.set_piece_at(chess.D3, chess.Piece.from_symbol("B"))
    board.set_piece_at(chess.C1, chess.Piece.from_symbol("B"))
    assert "colle" in ids(board)
    board.remove_piece_at(chess.C1)
    board.set_piece_at(chess.F4, chess.Piece.from_symbol("B"))
    assert "london" in ids(board)
    assert "colle" not in ids(board)


def test_a_structure_refines_the_wider_one() -> None:
    board = pawns_board("a2 c2 c3 d4 e5 f2", "c5 d5 e6 f7 g7")
    assert ids(board) == {"french-winawer"}


def test_since_when_and_until_when() -> None:
    # The French advance chain from 3 e5 to the exchange on d4 that leaves no pawn there.
    board = chess.Board()
    boards = [board.copy()]
    for san in ["e4", "e6", "d4", "d5", "e5", "c5", "Nf3", "cxd4", "Nxd4"]:
        board.push_san(san)
        boards.append(board.copy())
    (chain,) = [one for one in BOOK.along(boards) if one.found.key == "french-advance"]
    assert (chain.since, chain.until) == (5, 8)
    last = [one for one in BOOK.along(boards[:7]) if one.found.key == "french-advance"]
    assert [one.until for one in last] == [None]


def test_the_breaks_of_a_slav_structure_with_g6() -> None:
    # Common practice, no source: e5 and c5 are the breaks of c6 and d5 with …g6.
    (found,) = BOOK.find(pawns_board("c4 d4 e3 f2", "b7 c6 d5 e7 f7 g6"))
    assert found.name == "Schlechter form of the Slav structure"
    assert found.breaks(chess.BLACK) == (chess.E5, chess.C5)
    # With colours exchanged squares and words are turned.
    (turned,) = BOOK.find(pawns_board("b2 c3 d4 e2 f2 g3", "c5 d5 e6 f7"))
    assert turned.breaks(chess.WHITE) == (chess.E4, chess.C4)
    assert "held by White" in turned.name
    assert "g2" in turned.plan(chess.WHITE)


def test_every_definition_says_where_it_is_from() -> None:
    assert len(BOOK) >= 30
    assert all(structure.source and structure.holder_plan for structure in BOOK)


@pytest.mark.parametrize(
    ("text", "reason"),
    [
        ("", "cannot be read"),
        ("structure = 3", "cannot be read"),
        ('[[structure]]\nid = "x"\nname = "X"\nholder = "green"\n', "cannot be read"),
        ('[[structure]]\nid = "x"\ncolour = "X"\n', "unknown field colour"),
    ],
)
def test_a_damaged_file_is_told_in_a_sentence(tmp_path: Path, text: str, reason: str) -> None:
    path = tmp_path / "structures.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(ResourceMissingError, match=reason):
        load_structures(path)


@pytest.mark.parametrize("prepared", [1.0, 0.75])
def test_share_of_a_repertoire_against_its_lines_one_by_one(prepared: float) -> None:
    """A game also ends the repertoire where a reply comes that is not prepared for."""
    text = (
        '[RepertoireSide "White"]\n\n'
        "1. e4 e6 (1... c6 2. d4 d5 3. e5 Bf5) (1... e5 2. Nf3) 2. d4 d5 3. e5 c5 "
        "(3... b6 4. c3) (3... Ne7 4. exd6) 4. c3 cxd4 5. cxd4 *"
    )
    repertoire = read_repertoire_text(text).repertoire
    arrays = RepertoireArrays.compile(repertoire)
    replies = prepared * edge_shares(arrays)
    shares = {one.found.key: one for one in structure_shares(arrays, BOOK, replies)}
    met: dict[str, float] = {}
    ends: dict[str, float] = {}

    def walk(node, weight, seen):  # type: ignore[no-untyped-def]
        here = {one.key for one in BOOK.find(node.board())}
        seen = seen | here
        goes_on = 1.0 if repertoire.is_decision(node) else prepared
        left = weight * (1 - goes_on if node.edges else 1)
        if left:
            for key in seen:
                met[key] = met.get(key, 0) + left
            for key in here:
                ends[key] = ends.get(key, 0) + left
        for edge in node.edges:
            walk(edge.child, weight * goes_on / len(node.edges), seen)

    walk(repertoire.roots[0], 1.0, set())
    assert {key: pytest.approx(one.met) for key, one in shares.items()} == met
    assert {key: one.ends for key, one in shares.items() if one.ends} == {
        key: pytest.approx(value) for key, value in ends.items()
    }
    assert shares["french-advance"].met == pytest.approx(prepared**2 / 3)
