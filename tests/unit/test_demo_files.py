"""The demo files hold what is promised of them, counted without the trainer.

Everything here is brute force with python-chess: positions are the EPD with the en-passant
square only where the capture is legal (FIDE Laws of Chess 2023, article 9.2), lines are walked
one by one. The form of the files is that of the PGN Standard (Edwards, 1994-03-12).
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import chess
import chess.pgn
import pytest

FOLDER = Path(__file__).resolve().parents[2] / "repertoires"
REPERTOIRE = FOLDER / "kings-indian-attack.pgn"
GAMES = FOLDER / "demo-games.pgn"

SEVEN_TAGS = ["Event", "Site", "Date", "Round", "White", "Black", "Result"]
TAG_LINE = re.compile(r'\[(\w+) "((?:[^"\\]|\\.)*)"\]')
OWNER = "Linden, Mara"


@dataclass
class Counts:
    """What the repertoire holds; positions are EPD strings, moves are in UCI notation."""

    known: set[str] = field(default_factory=set)
    roots: set[str] = field(default_factory=set)
    mains: dict[str, set[str]] = field(default_factory=dict)
    prepared: dict[str, set[str]] = field(default_factory=dict)
    entries: dict[str, set[tuple[str, str]]] = field(default_factory=dict)
    open_ends: list[str] = field(default_factory=list)
    notes: int = 0


def read(path: Path) -> list[chess.pgn.Game]:
    with path.open(encoding="utf-8") as handle:
        return list(iter(lambda: chess.pgn.read_game(handle), None))


def epd(board: chess.Board) -> str:
    return board.epd(en_passant="legal")


def nodes(game: chess.pgn.Game) -> Iterator[tuple[chess.pgn.GameNode, chess.Board]]:
    stack: list[tuple[chess.pgn.GameNode, chess.Board]] = [(game, game.board())]
    while stack:
        node, board = stack.pop()
        yield node, board
        for child in reversed(node.variations):
            after = board.copy(stack=False)
            after.push(child.move)
            stack.append((child, after))


def count(games: list[chess.pgn.Game]) -> Counts:
    found = Counts()
    for game in games:
        found.roots.add(epd(game.board()))
        for node, board in nodes(game):
            here = epd(board)
            found.known.add(here)
            found.notes += bool(node.comment)
            moves = [child.move for child in node.variations]
            if board.turn == chess.WHITE and moves:
                found.mains.setdefault(here, set()).add(moves[0].uci())
                found.prepared.setdefault(here, set()).update(move.uci() for move in moves)
            elif board.turn == chess.WHITE:
                found.open_ends.append(f"{game.headers['Event']}: {board.fen()}")
            for move in moves:
                after = board.copy(stack=False)
                after.push(move)
                found.entries.setdefault(epd(after), set()).add((here, move.uci()))
    return found


@pytest.fixture(scope="module")
def sections() -> list[chess.pgn.Game]:
    return read(REPERTOIRE)


@pytest.fixture(scope="module")
def repertoire(sections: list[chess.pgn.Game]) -> Counts:
    return count(sections)


@pytest.fixture(scope="module")
def games() -> list[chess.pgn.Game]:
    return read(GAMES)


def blocks(path: Path) -> list[tuple[list[tuple[str, str]], str]]:
    """The games of a file as text: tag pairs in file order, and the movetext."""
    parts = path.read_text(encoding="utf-8").rstrip("\n").split("\n\n")
    pairs = [TAG_LINE.findall(part) for part in parts[0::2]]
    return list(zip(pairs, parts[1::2], strict=True))


def is_re_entry(game: chess.pgn.Game, known: set[str], plies: int = 50) -> bool:
    """Whether a game leaves the known positions and comes back to one (half-moves in all)."""
    board = game.board()
    left = False
    for move in list(game.mainline_moves())[:plies]:
        board.push(move)
        if epd(board) not in known:
            left = True
        elif left:
            return True
    return False


@pytest.mark.parametrize("path", [REPERTOIRE, GAMES], ids=lambda path: path.name)
def test_text_keeps_the_export_format(path: Path) -> None:
    # PGN Standard: 8.1.1 the seven tag roster first and in order, then the rest in ASCII order;
    # 8.2.1 lines of at most 79 characters; 8.2.6 the termination equals the Result tag.
    text = path.read_bytes()
    assert text.isascii()
    assert b"\r" not in text
    assert max(len(line) for line in text.split(b"\n")) < 80
    for pairs, movetext in blocks(path):
        names = [name for name, _ in pairs]
        assert names[:7] == SEVEN_TAGS
        assert names[7:] == sorted(set(names[7:]))
        assert not any(line.startswith("[") for line in movetext.split("\n")[:1])
        assert movetext.split()[-1] == dict(pairs)["Result"]


def test_repertoire_is_read_without_errors(sections: list[chess.pgn.Game]) -> None:
    assert len(sections) == len(blocks(REPERTOIRE)) >= 10
    assert [error for section in sections for error in section.errors] == []
    titles = [section.headers["Event"] for section in sections]
    assert len(set(titles)) == len(titles)
    for section in sections:
        assert section.headers["RepertoireSide"] == "White"
        assert section.headers["Result"] == "*"


def test_repertoire_is_large_enough(repertoire: Counts) -> None:
    crossings = [here for here, ways in repertoire.entries.items() if len(ways) >= 2]
    alternatives = [here for here, moves in repertoire.prepared.items() if len(moves) >= 2]
    assert len(repertoire.mains) >= 150
    assert len(crossings) >= 25
    assert len(alternatives) >= 5
    assert repertoire.notes >= 90


def test_repertoire_has_one_main_move_everywhere(repertoire: Counts) -> None:
    assert {here: moves for here, moves in repertoire.mains.items() if len(moves) > 1} == {}


def test_every_line_ends_after_a_prepared_move(repertoire: Counts) -> None:
    assert repertoire.open_ends == []


def test_repertoire_starts_from_the_start_and_from_other_positions(repertoire: Counts) -> None:
    assert epd(chess.Board()) in repertoire.roots
    assert len(repertoire.roots) >= 2


def test_games_are_legal_and_end_as_their_result_says(games: list[chess.pgn.Game]) -> None:
    assert len(games) == len(blocks(GAMES)) >= 200
    assert [error for game in games for error in game.errors] == []
    for game in games:
        board = game.end().board()
        assert 25 <= board.fullmove_number <= 81
        assert game.headers["Result"] in {"1-0", "0-1", "1/2-1/2"}
        # A checkmate or a stalemate on the board leaves no choice of result (FIDE Laws 5.1, 5.2).
        assert board.result() in {"*", game.headers["Result"]}


def test_games_are_sorted_by_date_and_played_once(games: list[chess.pgn.Game]) -> None:
    dates = [game.headers["Date"] for game in games]
    assert dates == sorted(dates)
    assert all(re.fullmatch(r"20(23|24|25|26)\.\d\d\.\d\d", date) for date in dates)
    moves = [tuple(move.uci() for move in game.mainline_moves()) for game in games]
    assert len(set(moves)) == len(moves)
    for game in games:
        assert game.headers["White"] != game.headers["Black"]
        assert {"WhiteElo", "BlackElo"} <= set(game.headers)


def test_owner_has_both_colours(games: list[chess.pgn.Game]) -> None:
    assert sum(game.headers["White"] == OWNER for game in games) >= 100
    assert sum(game.headers["Black"] == OWNER for game in games) >= 10


def test_games_come_back_by_transposition(games: list[chess.pgn.Game], repertoire: Counts) -> None:
    owned = [game for game in games if game.headers["White"] == OWNER]
    assert sum(is_re_entry(game, repertoire.known) for game in owned) >= 12


def test_games_leave_early_and_late(games: list[chess.pgn.Game], repertoire: Counts) -> None:
    depths = []
    for game in games:
        if game.headers["White"] != OWNER:
            continue
        board = game.board()
        plies = 0
        for move in game.mainline_moves():
            board.push(move)
            if epd(board) not in repertoire.known:
                break
            plies += 1
        depths.append(plies)
    assert sum(depth < 12 for depth in depths) >= 20
    assert sum(depth >= 16 for depth in depths) >= 20
