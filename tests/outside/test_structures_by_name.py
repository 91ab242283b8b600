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


def test_no_structure_stands_on_the_first_board() -> None:
    assert BOOK.find(chess.Board()) == ()
