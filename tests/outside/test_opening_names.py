"""The table of openings as published, looked up through the program.

Source: the public table in `resources/openings` (CC0; source and commit in its README). The number
of rows is that of the published files. That 7,852 distinct positions lie on the way (the starting
position too), 192 of them entered by more than one move, was counted with python-chess 1.11.2.
"""

from __future__ import annotations

import io
from collections import defaultdict

import chess
import chess.pgn
import pytest

from trainer.position import position_epd
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.openings import Opening, OpeningBook
from trainer.repertoire.order_graph import OrderGraph
from trainer.repertoire.reader import read_repertoire_text
from trainer.resources import resource_path

Row = tuple[Opening, str]


@pytest.fixture(scope="module")
def rows() -> list[Row]:
    """Opening and PGN of each row, in the order of the files."""
    found: list[Row] = []
    for path in sorted(resource_path("openings").glob("*.tsv")):
        for line in path.read_text(encoding="utf-8").splitlines()[1:]:
            eco, name, moves = line.split("\t")
            found.append((Opening(eco, name), moves))
    return found


@pytest.fixture(scope="module")
def book() -> OpeningBook:
    return OpeningBook.load()


@pytest.fixture(scope="module")
def repertoire(rows: list[Row]) -> Repertoire:
    """All published lines as one repertoire."""
    loaded = read_repertoire_text("\n\n".join(f"{moves} *" for _, moves in rows))
    assert [entry for entry in loaded.skipped if "marked" not in entry.reason] == []
    return loaded.repertoire


def last_board(moves: str) -> chess.Board:
    """The final position, read by python-chess."""
    game = chess.pgn.read_game(io.StringIO(moves))
    assert game is not None
    assert game.errors == []
    return game.end().board()


def test_each_published_line_ends_in_its_name(rows: list[Row], book: OpeningBook) -> None:
    assert len(rows) == len(book) == 3807
    assert len({opening.name for opening, _ in rows}) == 3174
    for opening, moves in rows:
        assert book.name_of(last_board(moves)) == opening


def test_positions_on_the_way_and_crossings(rows: list[Row], repertoire: Repertoire) -> None:
    entered: dict[str, set[tuple[str, str]]] = defaultdict(set)
    known = {position_epd(chess.Board())}
    for _, moves in rows:
        game = chess.pgn.read_game(io.StringIO(moves))
        assert game is not None
        board = game.board()
        for move in game.mainline_moves():
            before = position_epd(board)
            board.push(move)
            after = position_epd(board)
            known.add(after)
            entered[after].add((before, move.uci()))
    crossings = {epd for epd, ways in entered.items() if len(ways) > 1}
    assert len(known) == 7852
    assert len(crossings) == 192
    assert {position_epd(node.board()) for node in repertoire.nodes.values()} == known
    assert {position_epd(node.board()) for node in repertoire.crossings()} == crossings


def test_a_named_position_has_its_name_by_every_order(
    repertoire: Repertoire, book: OpeningBook
) -> None:
    graph = OrderGraph(repertoire)
    several = 0
    for node in repertoire.nodes.values():
        named = book.name_of(node.board())
        if named is None or graph.count(node) < 2:
            continue
        several += 1
        for order in graph.orders(node):
            board = chess.Board()
            for san in order.sans:
                board.push_san(san)
            assert book.name_of(board) == named
            assert book.last_named(order.edges) == named
    assert several > 100
