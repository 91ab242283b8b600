"""Features of a position against their definitions in words, by brute force."""

from __future__ import annotations

import random
from itertools import pairwise

import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.lesson import pawns
from trainer.lesson.breaks import breaks, to_move
from trainer.lesson.features import bishops, features, outposts


def played(seed: int, plies: int) -> chess.Board:
    rng = random.Random(seed)
    board = chess.Board()
    for _ in range(plies):
        moves = list(board.legal_moves)
        if not moves:
            break
        board.push(rng.choice(moves))
    return board


boards = st.builds(played, st.integers(0, 10**6), st.integers(0, 90))
sides = st.sampled_from([chess.WHITE, chess.BLACK])


def pawn_names(board: chess.Board, side: chess.Color) -> list[str]:
    return [
        chess.square_name(square)
        for square, piece in board.piece_map().items()
        if piece == chess.Piece(chess.PAWN, side)
    ]


def guards_some_day(name: str, side: chess.Color, square: str) -> bool:
    """Push the pawn step by step and look what it attacks, with no other piece on the board."""
    board = chess.Board(None)
    at = chess.parse_square(name)
    while 0 < chess.square_rank(at) < 7:
        board.clear()
        board.set_piece_at(at, chess.Piece(chess.PAWN, side))
        if chess.parse_square(square) in board.attacks(at):
            return True
        at += 8 if side else -8
    return False


@settings(deadline=None, max_examples=60)
@given(boards, sides)
def test_weak_squares_are_those_no_pawn_can_guard(board: chess.Board, side: chess.Color) -> None:
    ranks = "34" if side else "65"
    wanted = {
        file + rank
        for file in "bcdefg"
        for rank in ranks
        if not any(guards_some_day(name, side, file + rank) for name in pawn_names(board, side))
    }
    assert {chess.square_name(one) for one in pawns.weak_squares(board, side)} == wanted


@settings(deadline=None, max_examples=60)
@given(boards, sides)
def test_outposts_are_guarded_and_never_attacked(board: chess.Board, side: chess.Color) -> None:
    wanted = set()
    for square in chess.SQUARES:
        name = chess.square_name(square)
        if name[1] not in ("456" if side else "543") or board.piece_type_at(square) == chess.PAWN:
            continue
        guarded = any(
            board.piece_type_at(one) == chess.PAWN for one in board.attackers(side, square)
        )
        attacked = any(guards_some_day(one, not side, name) for one in pawn_names(board, not side))
        if guarded and not attacked:
            wanted.add(square)
    found = outposts(board, side)
    assert {one.square for one in found} == wanted
    for one in found:
        piece = board.piece_at(one.square)
        minor = piece is not None and piece.color == side and piece.piece_type in (2, 3)
        assert (one.piece is not None) == minor


@settings(deadline=None, max_examples=60)
@given(boards)
def test_files_majorities_space_islands(board: chess.Board) -> None:
    white, black = pawn_names(board, chess.WHITE), pawn_names(board, chess.BLACK)
    found = pawns.files(board)
    for number, letter in enumerate("abcdefgh"):
        counts = (
            sum(name[0] == letter for name in white),
            sum(name[0] == letter for name in black),
        )
        assert (number in found.open) == (counts == (0, 0))
        assert (number in found.half_open(chess.WHITE)) == (counts[0] == 0 < counts[1])
        assert (number in found.half_open(chess.BLACK)) == (counts[1] == 0 < counts[0])
    by_wing = {one.wing: one for one in pawns.majorities(board)}
    for wing, letters in ((pawns.Wing.QUEENS_SIDE, "abcd"), (pawns.Wing.KINGS_SIDE, "efgh")):
        own = sum(name[0] in letters for name in white)
        other = sum(name[0] in letters for name in black)
        if own == other:
            assert wing not in by_wing
        else:
            assert by_wing[wing].side == (own > other)
            assert (by_wing[wing].own, by_wing[wing].other) == (max(own, other), min(own, other))
    for side, names in ((chess.WHITE, white), (chess.BLACK, black)):
        behind = {
            f"{name[0]}{rank}"
            for name in names
            if name[0] in "cdef"
            for rank in (range(1, int(name[1])) if side else range(int(name[1]) + 1, 9))
        }
        assert pawns.space(board, side) == len(behind)
        letters = "".join(sorted({name[0] for name in names}))
        gaps = sum(ord(b) - ord(a) > 1 for a, b in pairwise(letters))
        assert pawns.islands(board, side) == (gaps + 1 if letters else 0)


@settings(deadline=None, max_examples=60)
@given(boards, sides)
def test_passed_isolated_and_fixed_pawns(board: chess.Board, side: chess.Color) -> None:
    own, other = pawn_names(board, side), pawn_names(board, not side)
    forward = 1 if side else -1
    passed, isolated, fixed = set(), set(), set()
    for name in own:
        file, rank = ord(name[0]), int(name[1])
        if not any(abs(ord(n[0]) - file) <= 1 and (int(n[1]) - rank) * forward > 0 for n in other):
            passed.add(name)
        if not any(abs(ord(n[0]) - file) == 1 for n in own):
            isolated.add(name)
        if f"{name[0]}{rank + forward}" in other:
            fixed.add(name)
    assert {chess.square_name(one) for one in pawns.passed_pawns(board, side)} == passed
    assert {chess.square_name(one) for one in pawns.isolated_pawns(board, side)} == isolated
    assert {chess.square_name(one) for one in pawns.fixed_pawns(board, side)} == fixed


@settings(deadline=None, max_examples=100)
@given(boards, sides)
def test_breaks_now_are_the_legal_pushes_that_attack_a_pawn(
    board: chess.Board, side: chess.Color
) -> None:
    found = breaks(board, side)
    seen = to_move(board, side)
    wanted = set()
    for move in seen.legal_moves if seen is not None else []:
        if seen.piece_type_at(move.from_square) != chess.PAWN or seen.is_capture(move):
            continue
        after = seen.copy(stack=False)
        after.push(move)
        attacked = after.attacks(move.to_square) if not move.promotion else chess.SquareSet()
        if any(after.piece_at(one) == chess.Piece(chess.PAWN, not side) for one in attacked):
            wanted.add((move.from_square, move.to_square))
    # A pawn that could challenge with one step is not listed for its double step as well.
    single = {start: target for start, target in wanted if abs(target - start) == 8}
    wanted = {pair for pair in wanted if single.get(pair[0], pair[1]) == pair[1]}
    assert {(one.start, one.target) for one in found if one.now} == wanted


@settings(deadline=None, max_examples=100)
@given(boards, sides)
def test_every_break_challenges_along_a_way_without_pawns(
    board: chess.Board, side: chess.Color
) -> None:
    for one in breaks(board, side):
        bare = chess.Board(None)
        bare.set_piece_at(one.target, chess.Piece(chess.PAWN, side))
        assert one.challenges
        for square in one.challenges:
            assert square in bare.attacks(one.target)
            assert board.piece_at(square) == chess.Piece(chess.PAWN, not side)
        way = chess.SquareSet(chess.between(one.start, one.target)) | {one.target}
        assert not way & board.pawns
        assert set(one.in_the_way) == {square for square in way if board.piece_at(square)}
        guards = board.attackers(side, one.target)
        guards.discard(one.start)
        assert one.support == len(guards)
        assert one.opposition == len(board.attackers(not side, one.target))


def test_the_breaks_of_a_slav_structure() -> None:
    # Common practice, no source: …e5 and …c5 are the breaks of c6 and d5 with …g6.
    board = chess.Board("rnbq1rk1/pp2ppbp/2p2np1/3p4/3P1B2/2N1PN2/PPP1BPPP/R2Q1RK1 b - - 0 7")
    found = {chess.square_name(one.target): one for one in breaks(board, chess.BLACK)}
    assert {"e5", "c5"} <= found.keys()
    assert found["c5"].now
    assert found["e5"].now
    assert (found["e5"].support, found["e5"].opposition) == (0, 3)
    assert found["e5"].loses == 1
    assert not found["e5"].holds


def test_a_rook_pawn_goes_to_h5_against_a_fianchetto() -> None:
    # Common practice, no source.
    board = chess.Board("6k1/5pbp/6p1/8/7P/8/8/6K1 w - - 0 1")
    (found,) = breaks(board, chess.WHITE)
    assert (found.name, found.now) == ("h4–h5", True)
    board = chess.Board("6k1/5pbp/6p1/8/8/8/7P/6K1 w - - 0 1")
    (found,) = breaks(board, chess.WHITE)
    assert (found.name, found.now, found.pushes) == ("h2–h5", False, 2)


@pytest.mark.parametrize(
    ("fen", "side", "square", "bad"),
    [
        # Common practice, no source: the French bishop on c8, and its counterpart on d3.
        ("rnbqkbnr/pp3ppp/4p3/2ppP3/3P4/2P5/PP3PPP/RNBQKBNR w KQkq - 0 5", False, "c8", True),
        ("rnbqkbnr/pp3ppp/4p3/2ppP3/3P4/2P5/PP3PPP/RNBQKBNR w KQkq - 0 5", True, "f1", False),
        ("rnbqkbnr/pp3ppp/4p3/2ppP3/3P4/2P5/PP3PPP/RNBQKBNR w KQkq - 0 5", True, "c1", True),
        # The bishop on g7 behind d6 and e5.
        ("6k1/ppp2pbp/3p2p1/3Pp3/4P3/8/PP3PPP/6K1 w - - 0 1", False, "g7", False),
        ("6k1/1pp2pb1/p2p3p/3Pp3/4P3/8/PP3PPP/6K1 w - - 0 1", False, "g7", True),
    ],
)
def test_bad_bishops(fen: str, side: bool, square: str, bad: bool) -> None:
    found = {chess.square_name(one.square): one for one in bishops(chess.Board(fen), side)}
    assert found[square].bad is bad


def test_the_hole_on_d5_and_the_one_on_d4() -> None:
    # Common practice, no source: e5 with d6 gives up d5, c4 with e4 gives up d4.
    board = chess.Board("6k1/pp3ppp/3p4/4p3/4P3/8/PPP2PPP/6K1 w - - 0 1")
    assert chess.D5 in pawns.weak_squares(board, chess.BLACK)
    assert chess.D5 in {one.square for one in outposts(board, chess.WHITE)}
    board = chess.Board("6k1/pp1p1ppp/8/2p5/2P1P3/3P4/PP3PPP/6K1 w - - 0 1")
    assert chess.D4 in pawns.weak_squares(board, chess.WHITE)


def test_all_features_together_have_both_sides() -> None:
    board = chess.Board()
    found = features(board)
    assert found.of(chess.WHITE).space == found.of(chess.BLACK).space == 4
    assert found.files.open == ()
    assert found.majorities == ()
