"""Structures on positions whose names are published.

Source: the opening table under `resources/openings` (CC0, see the README there). Names of openings
are no structures, so that only names that speak of one are asked, at the end of their rows, and
only rows in which the pawns that the name speaks of have been exchanged or moved already.
"""

from __future__ import annotations

from functools import lru_cache

import chess
import pytest

from trainer.lesson.structure_file import load_structures
from trainer.resources import resource_path

BOOK = load_structures()
BLACK, WHITE = chess.BLACK, chess.WHITE


@lru_cache(maxsize=1)
def rows() -> list[tuple[str, chess.Board]]:
    out = []
    for path in sorted(resource_path("openings").glob("*.tsv")):
        for line in path.read_text(encoding="utf-8").splitlines()[1:]:
            _, name, moves = line.split("\t")
            board = chess.Board()
            for word in moves.split():
                if not word.endswith("."):
                    board.push_san(word)
            out.append((name, board))
    return out


def pawn(board: chess.Board, symbol: str, *names: str) -> bool:
    piece = chess.Piece.from_symbol(symbol)
    return all(board.piece_at(chess.parse_square(name)) == piece for name in names)


def isolated(board: chess.Board, side: chess.Color) -> bool:
    """Whether `side` has a pawn on d4 or d5 without a neighbour or a pawn before it."""
    symbol, square = ("P", "d4") if side else ("p", "d5")
    neighbours = no_pawn(board, side, 2) and no_pawn(board, side, 4)
    return pawn(board, symbol, square) and neighbours and no_pawn(board, not side, 3)


def no_pawn(board: chess.Board, color: chess.Color, file: int) -> bool:
    return not board.pawns & board.occupied_co[color] & chess.BB_FILES[file]


@pytest.mark.parametrize(
    ("word", "condition", "keys", "at_least"),
    [
        (
            "Maróczy Bind",
            lambda b: no_pawn(b, chess.BLACK, 2) and no_pawn(b, chess.WHITE, 3),
            {"maroczy-bind"},
            10,
        ),
        (
            "French Defense: Advance",
            lambda b: pawn(b, "P", "d4", "e5") and pawn(b, "p", "e6"),
            {"french-advance", "french-winawer"},
            16,
        ),
        (
            "Caro-Kann Defense: Advance",
            lambda b: pawn(b, "p", "c6", "d5"),
            {"caro-kann-advance"},
            9,
        ),
        (
            "Caro-Kann Defense: Panov",
            lambda b: pawn(b, "P", "c4", "d4") and pawn(b, "p", "d5"),
            {"panov"},
            10,
        ),
        (
            "Sicilian Defense: Dragon",
            lambda b: pawn(b, "P", "e4") and pawn(b, "p", "d6", "g6"),
            {"dragon"},
            30,
        ),
        (
            "Scheveningen",
            lambda b: pawn(b, "P", "e4") and pawn(b, "p", "d6", "e6"),
            {"scheveningen"},
            18,
        ),
        (
            "Grünfeld Defense: Exchange",
            lambda b: pawn(b, "P", "c3", "d4", "e4"),
            {"gruenfeld-centre"},
            10,
        ),
        (
            "Dutch Defense: Stonewall",
            lambda b: pawn(b, "p", "d5", "e6", "f5"),
            {"stonewall-turned"},
            7,
        ),
        (
            "London System",
            lambda b: pawn(b, "P", "d4", "e3") and pawn(b, "p", "d5"),
            {"london"},
            3,
        ),
        (
            "King's Indian Defense: Orthodox",
            lambda b: pawn(b, "P", "d5") and pawn(b, "p", "e5"),
            {"kings-indian-closed", "closed-benoni"},
            10,
        ),
        (
            "Benko Gambit",
            lambda b: (
                pawn(b, "p", "d6") and no_pawn(b, chess.BLACK, 0) and no_pawn(b, chess.BLACK, 1)
            ),
            {"benko"},
            3,
        ),
        (
            "Queen's Gambit Declined: Exchange",
            lambda b: pawn(b, "P", "d4", "e3") and pawn(b, "p", "c6") and no_pawn(b, WHITE, 2),
            {"carlsbad"},
            4,
        ),
        (
            "Slav Defense",
            lambda b: (
                pawn(b, "p", "c6", "d5")
                and not any(pawn(b, "p", square) for square in ("e5", "e6", "f5", "g6"))
            ),
            {"slav", "caro-kann-advance"},
            15,
        ),
        ("Schlechter", lambda b: pawn(b, "p", "c6", "d5", "g6"), {"schlechter"}, 1),
        (
            "Semi-Slav",
            lambda b: (
                pawn(b, "p", "c6", "d5", "e6")
                and pawn(b, "P", "d4", "e3")
                and not pawn(b, "p", "f5")
            ),
            {"slav-triangle", "stonewall-turned"},
            26,
        ),
        (
            "Najdorf",
            lambda b: pawn(b, "p", "d6", "e5") and pawn(b, "P", "e4") and no_pawn(b, BLACK, 2),
            {"najdorf"},
            7,
        ),
        (
            "Winawer",
            lambda b: pawn(b, "P", "c2", "c3", "d4", "e5") and pawn(b, "p", "d5", "e6"),
            {"french-winawer"},
            26,
        ),
        (
            "Caro-Kann Defense",
            lambda b: (
                pawn(b, "p", "c6")
                and no_pawn(b, BLACK, 3)
                and not no_pawn(b, BLACK, 4)
                and pawn(b, "P", "d4")
                and no_pawn(b, WHITE, 4)
            ),
            {"caro-kann"},
            27,
        ),
        (
            "Benoni Defense",
            lambda b: (
                pawn(b, "p", "c5", "d6")
                and no_pawn(b, BLACK, 4)
                and pawn(b, "P", "d5", "e4")
                and no_pawn(b, WHITE, 2)
            ),
            {"benoni", "benko"},
            24,
        ),
        (
            "Benoni",
            lambda b: (
                pawn(b, "p", "c5", "d6")
                and no_pawn(b, BLACK, 4)
                and pawn(b, "P", "c4", "d5")
                and no_pawn(b, WHITE, 4)
            ),
            {"symmetrical-benoni"},
            1,
        ),
        ("Botvinnik", lambda b: pawn(b, "P", "c4", "d3", "e4", "g3"), {"botvinnik"}, 2),
        ("Botvinnik", lambda b: pawn(b, "p", "c5", "d6", "e5", "g6"), {"botvinnik-turned"}, 5),
        (
            "Réti Opening",
            lambda b: (
                pawn(b, "P", "c4", "g3")
                and pawn(b, "p", "d5")
                and not pawn(b, "P", "d4")
                and not pawn(b, "P", "e4")
            ),
            {"reti"},
            16,
        ),
        (
            "King's Indian Attack",
            lambda b: pawn(b, "P", "d3", "e4", "g3") and not pawn(b, "p", "c5", "d4"),
            {"kings-indian-attack"},
            1,
        ),
        (
            "Colle",
            lambda b: pawn(b, "P", "c3", "d4", "e3") and pawn(b, "p", "d5"),
            {"colle"},
            1,
        ),
        (
            "Torre",
            lambda b: pawn(b, "P", "c3", "d4", "e3") and pawn(b, "p", "d5"),
            {"pyramid", "colle", "london"},
            9,
        ),
        ("Tarrasch", lambda b: isolated(b, BLACK), {"isolated-queen-pawn-turned"}, 7),
        ("Panov", lambda b: isolated(b, WHITE), {"isolated-queen-pawn"}, 1),
        (
            "",
            lambda b: all(no_pawn(b, side, file) for side in (WHITE, BLACK) for file in (3, 4)),
            {"open-centre"},
            2,
        ),
        (
            "",
            lambda b: pawn(b, "P", "d4", "e5") and pawn(b, "p", "d5", "e6"),
            {"locked-centre", "french-advance", "french-winawer", "caro-kann-advance"},
            91,
        ),
        (
            "French Defense: Exchange",
            lambda b: no_pawn(b, chess.BLACK, 4) and pawn(b, "P", "d4") and not pawn(b, "P", "c4"),
            {"exchange-french"},
            4,
        ),
    ],
)
def test_the_name_and_the_structure_agree(word, condition, keys, at_least) -> None:  # type: ignore[no-untyped-def]
    asked = [(name, board) for name, board in rows() if word in name and condition(board)]
    assert len(asked) >= at_least, len(asked)
    missed = [
        (name, board.fen())
        for name, board in asked
        if not keys & {one.key for one in BOOK.find(board)}
    ]
    assert not missed


@pytest.mark.parametrize(
    ("moves", "key"),
    [
        # Hanging pawns: world championship match, Reykjavik 1972, game 6 (from memory).
        (
            "c4 e6 Nf3 d5 d4 Nf6 Nc3 Be7 Bg5 O-O e3 h6 Bh4 b6 cxd5 Nxd5 Bxe7 Qxe7 Nxd5 exd5 Rc1 "
            "Be6 Qa4 c5 Qa3 Rc8 Bb5 a6 dxc5 bxc5",
            "hanging-pawns-turned",
        ),
        # The Hedgehog by the moves of the table's “Symmetrical, Hedgehog, Flexible Formation”
        # (A30), with e4 and …a6, which complete it (from memory).
        (
            "c4 e6 Nf3 c5 Nc3 Nf6 g3 b6 Bg2 Bb7 O-O Be7 d4 cxd4 Qxd4 d6 e4 a6",
            "hedgehog",
        ),
        # The Stonewall for White: “Queen's Pawn Game: Stonewall Attack” (D00 in the table) and f4.
        ("d4 d5 e3 Nf6 Bd3 c5 c3 Nc6 f4", "stonewall"),
    ],
)
def test_structures_that_the_table_stops_short_of(moves: str, key: str) -> None:
    board = chess.Board()
    for san in moves.split():
        board.push_san(san)
    assert key in {one.key for one in BOOK.find(board)}
    # With colours exchanged the other side holds it.
    other = key.removesuffix("-turned") if key.endswith("-turned") else f"{key}-turned"
    assert other in {one.key for one in BOOK.find(board.mirror())}


#: The structures that players name most, as they stand in the definitions.
_NAMED = (
    *("isolated-queen-pawn", "hanging-pawns", "carlsbad", "slav", "schlechter", "stonewall"),
    *("hedgehog", "maroczy-bind", "scheveningen", "najdorf", "dragon", "kings-indian-closed"),
    *("benoni", "benko", "french-advance", "french-winawer", "caro-kann", "gruenfeld-centre"),
    *("panov", "symmetrical-benoni", "botvinnik", "reti", "kings-indian-attack", "colle"),
    *("london", "pyramid", "open-centre", "locked-centre"),
)


def test_each_of_them_is_defined_with_its_source_and_for_both_colours() -> None:
    by_id = {structure.id: structure for structure in BOOK}
    for name in _NAMED:
        structure = by_id[name]
        assert structure.source
        assert structure.holder_plan
        assert structure.other_plan
        # No side owns the two centres; Black's pyramid is the Slav triangle, by its own name.
        if name in ("open-centre", "locked-centre", "pyramid", "colle"):
            continue
        assert structure.turns


def test_no_structure_stands_on_the_first_board() -> None:
    assert BOOK.find(chess.Board()) == ()
