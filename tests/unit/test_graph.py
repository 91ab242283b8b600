"""The graph of positions."""

from __future__ import annotations

import chess
import pytest

from trainer.errors import KeyCollisionError
from trainer.position import pack_position
from trainer.repertoire.graph import STARTING_TITLE, Place, Repertoire, Section


def _play(repertoire: Repertoire, *sans: str) -> None:
    board = chess.Board()
    node = repertoire.add_position(board)
    for san in sans:
        move = board.push_san(san)
        child = repertoire.add_position(board)
        if node.edge_for(move) is None:
            repertoire.add_edge(node, move, child, san)
        node = child


def test_orders_meet_in_one_node() -> None:
    repertoire = Repertoire(chess.WHITE)
    _play(repertoire, "Nf3", "d5", "g3")
    _play(repertoire, "g3", "d5", "Nf3")
    board = chess.Board()
    for san in ("g3", "d5", "Nf3"):
        board.push_san(san)
    node = repertoire.node_at(board)
    assert node is not None
    assert repertoire.crossings() == [node]
    assert [edge.san for edge in node.entries] == ["g3", "Nf3"]
    assert node.turn == chess.BLACK
    assert node.board().epd() == board.epd()
    assert len(repertoire.decisions()) == 3
    assert [edge.san for edge in repertoire.replies()] == ["d5", "d5"]
    assert len(list(repertoire.edges())) == 6


def test_two_positions_under_one_key_are_told() -> None:
    repertoire = Repertoire()
    node = repertoire.add_position(chess.Board())
    other = chess.Board("4k3/8/8/8/8/8/8/4K3 w - - 0 1")
    with pytest.raises(KeyCollisionError, match="share the key"):
        repertoire.add_packed(node.key, pack_position(other))
    assert len(repertoire.nodes) == 1


def test_titles_and_places() -> None:
    repertoire = Repertoire()
    _play(repertoire, "e4", "e5")
    root = next(iter(repertoire.nodes.values()))
    assert Section(root, {"Event": " A plan "}).title == "A plan"
    assert Section(root, {"Event": "?"}).title == STARTING_TITLE
    first, second = repertoire.edges()
    assert Place(second, Place(first, None)).path() == [first, second]
