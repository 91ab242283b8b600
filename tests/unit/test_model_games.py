"""Structures of a whole reference base, against each game replayed on python-chess's board."""

from __future__ import annotations

import random
import sqlite3
from pathlib import Path

import chess
import chess.pgn
import pytest

from trainer.games.base.builder import build_base
from trainer.games.base.store import ReferenceBase
from trainer.games.base.whole import game_at, whole_base
from trainer.lesson.model_index import PLIES, STANDS, ModelIndex, index_file
from trainer.lesson.standing import stood_in
from trainer.lesson.structure_file import load_structures
from trainer.lesson.structures import StructureBook
from trainer.repertoire.openings import OpeningBook
from trainer.resources import repertoire_path

GAMES = repertoire_path("demo-games.pgn")
BOOK = load_structures()


def read_games(path: Path) -> list[chess.pgn.Game]:
    games = []
    with path.open(encoding="utf-8") as file:
        while (game := chess.pgn.read_game(file)) is not None:
            games.append(game)
    return games


def slow(moves: list[chess.Move]) -> dict[str, tuple[int, int]]:
    """How long each structure stood and since when, by python-chess's board."""
    board = chess.Board()
    found: dict[str, tuple[int, int]] = {}
    for ply, move in enumerate(moves, start=1):
        board.push(move)
        for one in BOOK.find(board):
            plies, since = found.get(one.key, (0, ply))
            found[one.key] = plies + 1, since
    return found


def fast(moves: list[chess.Move]) -> dict[str, tuple[int, int]]:
    return {one.found.key: (one.plies, one.since) for one in stood_in(moves, BOOK)}


def test_what_stood_is_what_the_board_shows() -> None:
    for game in read_games(GAMES)[:60]:
        moves = list(game.mainline_moves())
        assert fast(moves) == slow(moves)


@pytest.mark.parametrize("seed", range(12))
def test_captures_castling_en_passant_and_promotions(seed: int) -> None:
    # Random games with the rare moves preferred, so that each kind is met many times.
    rng = random.Random(seed)
    board, moves = chess.Board(), []
    for _ in range(160):
        legal = list(board.legal_moves)
        if not legal:
            break
        rare = [
            move
            for move in legal
            if board.is_castling(move) or board.is_en_passant(move) or move.promotion
        ]
        pawns = [move for move in legal if board.piece_type_at(move.from_square) == chess.PAWN]
        move = rng.choice(rare or (pawns if pawns and rng.random() < 0.6 else legal))
        moves.append(move)
        board.push(move)
    assert fast(moves) == slow(moves)


def looked_through(
    base: ReferenceBase, path: Path | None, book: StructureBook = BOOK, pieces: int = 10**9
) -> ModelIndex:
    index = ModelIndex(path, book, base.history())
    for count, piece in enumerate(
        whole_base(base, plies=PLIES, begin=index.begin(), piece_bytes=1 << 14), start=1
    ):
        assert not piece.fault
        games = ((game.number, game.moves) for game in piece.games)
        index.take(piece.path, piece.after, piece.done, games)
        if count == pieces:
            break
    return index


@pytest.fixture
def halves(tmp_path: Path) -> tuple[Path, Path]:
    """The games of the demo in two files."""
    _, *games = GAMES.read_text(encoding="utf-8").split("[Event ")
    assert len(games) == 244
    paths = tmp_path / "one.pgn", tmp_path / "two.pgn"
    for path, some in zip(paths, (games[:150], games[150:]), strict=True):
        path.write_text("".join(f"[Event {game}" for game in some), encoding="utf-8")
    return paths


def test_all_games_of_the_base_are_looked_through(
    tmp_path: Path, halves: tuple[Path, Path]
) -> None:
    base_path = tmp_path / "games.base"
    build_base(base_path, list(halves))
    wanted: dict[str, list[int]] = {}
    for game in read_games(GAMES):
        for key, (plies, _) in slow(list(game.mainline_moves())[:PLIES]).items():
            if plies >= STANDS:
                wanted.setdefault(key, []).append(plies)
    with ReferenceBase(base_path) as base, looked_through(base, tmp_path / "i") as index:
        assert index.looked() == base.summary().games == 244
        assert index.counts() == {key: len(found) for key, found in wanted.items()}
        for key, lengths in wanted.items():
            best = index.best(key, 5)
            assert [one.plies for one in best] == sorted(lengths, reverse=True)[:5]
            game = game_at(base, best[0].number, best[0].since, OpeningBook.load())
            assert game is not None
            assert key in {found.key for found in BOOK.find(game.board)}
            assert game.opening
        # From other openings than one: the same pawns come about in many ways.
        names = {
            game.opening.partition(":")[0]
            for one in index.best("isolated-queen-pawn", 30)
            if (game := game_at(base, one.number, one.since, OpeningBook.load())) is not None
        }
        assert len(names) > 1


def test_a_search_that_was_stopped_goes_on(tmp_path: Path, halves: tuple[Path, Path]) -> None:
    base_path, path = tmp_path / "games.base", tmp_path / "cache" / "index"
    build_base(base_path, list(halves))
    with ReferenceBase(base_path) as base:
        with looked_through(base, None) as whole:
            wanted = whole.counts(), whole.best("attack-chain", 50)
        with looked_through(base, path, pieces=3) as index:
            part = index.looked()
            assert 0 < part < 244
        with looked_through(base, path) as index:
            assert (index.counts(), index.best("attack-chain", 50)) == wanted
            # The game at which it stopped may have been read twice, and counts once.
            assert len({one.number for one in index.best("attack-chain", 50)}) == len(wanted[1])
        with looked_through(base, path) as index:
            assert list(whole_base(base, plies=PLIES, begin=index.begin())) == []


def test_only_what_was_added_is_looked_at(tmp_path: Path, halves: tuple[Path, Path]) -> None:
    base_path, path = tmp_path / "games.base", tmp_path / "index"
    build_base(base_path, [halves[0]])
    with ReferenceBase(base_path) as base, looked_through(base, path) as index:
        first = index.looked()
    build_base(base_path, [halves[1]])
    with ReferenceBase(base_path) as base:
        with ModelIndex(path, BOOK, base.history()) as index:
            assert index.looked() == first == 150
            pieces = list(whole_base(base, plies=PLIES, begin=index.begin()))
            assert {piece.path for piece in pieces} == {halves[1]}
        with looked_through(base, path) as index, looked_through(base, None) as whole:
            assert index.counts() == whole.counts()
    # A file that has grown: its new games, and the one that was its last.
    with halves[1].open("a", encoding="utf-8") as file:
        file.write('\n[White "Ash"]\n[Black "Elm"]\n\n1. e4 e6 2. d4 d5 3. e5 c5 4. c3 Nc6 *\n')
    build_base(base_path, [halves[1]])
    with ReferenceBase(base_path) as base:
        with ModelIndex(path, BOOK, base.history()) as index:
            (piece,) = whole_base(base, plies=PLIES, begin=index.begin())
            assert len(piece.games) == 2
        with looked_through(base, path) as index, looked_through(base, None) as whole:
            assert index.counts() == whole.counts()


def test_another_base_and_other_definitions_begin_anew(
    tmp_path: Path, halves: tuple[Path, Path]
) -> None:
    base_path, path = tmp_path / "games.base", tmp_path / "index"
    build_base(base_path, [halves[0]])
    with ReferenceBase(base_path) as base, looked_through(base, path) as index:
        assert index.looked() == 150
    base_path.unlink()
    build_base(base_path, [halves[1]])
    with ReferenceBase(base_path) as base, ModelIndex(path, BOOK, base.history()) as index:
        assert index.looked() == 0
    fewer = StructureBook([one for one in BOOK if one.id != "benko"])
    with ReferenceBase(base_path) as base:
        looked_through(base, path).close()
        with ModelIndex(path, fewer, base.history()) as index:
            assert index.looked() == 0


@pytest.mark.parametrize("content", [b"", b"no database at all, but long enough" * 200])
def test_a_damaged_index_is_made_again(
    tmp_path: Path, halves: tuple[Path, Path], content: bytes
) -> None:
    base_path, path = tmp_path / "games.base", tmp_path / "index"
    build_base(base_path, [halves[1]])
    path.write_bytes(content)
    with ReferenceBase(base_path) as base, looked_through(base, path) as index:
        assert index.looked() == 94
    with sqlite3.connect(path) as connection:
        assert connection.execute("SELECT count(*) FROM stood").fetchone()[0] > 0
    connection.close()


def test_an_index_that_cannot_be_written_is_done_without(
    tmp_path: Path, halves: tuple[Path, Path]
) -> None:
    base_path = tmp_path / "games.base"
    build_base(base_path, [halves[1]])
    blocked = tmp_path / "file"
    blocked.write_text("in the way", encoding="utf-8")
    with ReferenceBase(base_path) as base, looked_through(base, blocked / "index") as index:
        assert index.looked() == 94


def test_a_file_that_is_gone_or_changed_is_told(tmp_path: Path, halves: tuple[Path, Path]) -> None:
    base_path = tmp_path / "games.base"
    build_base(base_path, list(halves))
    halves[1].write_text("1. e4 *\n", encoding="utf-8")
    halves[0].unlink()
    with ReferenceBase(base_path) as base:
        pieces = list(whole_base(base, plies=PLIES, begin={}))
        assert [piece.unread for piece in pieces] == [94, 150]
        assert "has changed since it was added" in pieces[0].fault
        assert "There is no file" in pieces[1].fault
        assert game_at(base, 1, 4, OpeningBook.load()) is None


def test_the_index_has_a_name_of_its_own_for_each_base(tmp_path: Path) -> None:
    one, other = (index_file(tmp_path, tmp_path / name) for name in ("a.base", "b.base"))
    assert one != other
    assert one.parent == tmp_path / "structures"


def test_a_disk_that_fills_up_costs_nothing_that_was_found(
    tmp_path: Path, halves: tuple[Path, Path]
) -> None:
    games = [tuple(game.mainline_moves()) for game in read_games(halves[0])]
    first = list(enumerate(games, start=1))
    more = list(enumerate(games * 20, start=len(games) + 1))
    path = tmp_path / "structures" / "index.sqlite"
    with ModelIndex(path, BOOK, ()) as index, ModelIndex(None, BOOK, ()) as whole:
        whole.take(halves[0], 9, 9, first + more)
        index.take(halves[0], 5, 0, first)
        (pages,) = index._connection.execute("PRAGMA page_count").fetchone()
        index._connection.execute(f"PRAGMA max_page_count = {pages}")
        index.take(halves[0], 9, 9, more)
        assert index._connection.execute("PRAGMA database_list").fetchone()[2] == ""
        assert index.looked() == whole.looked() == len(first) + len(more)
        assert index.begin() == whole.begin()
        assert index.counts() == whole.counts()
