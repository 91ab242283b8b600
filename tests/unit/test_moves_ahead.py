"""Moves of a large file, resolved ahead: the same as one after the other on a board."""

from __future__ import annotations

import random
from itertools import count

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.benchmarks.bench_reading import Tree
from tests.repertoire_texts import TextMaker
from tests.unit.test_reader import SCRAPS
from trainer.errors import StemlineError
from trainer.notation.tokens import tokens
from trainer.position import pack_position, position_key
from trainer.repertoire import moves_ahead, reader
from trainer.repertoire.moves_ahead import MovesAhead, WordTree
from trainer.repertoire.reader import (
    LoadedRepertoire,
    ReadingCancelledError,
    read_repertoire_text,
)

NEVER = 1 << 60
SEEDS = st.integers(0, 2**32)


def read(text: str, large: int) -> LoadedRepertoire:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "_LARGE", large)
        # However few positions stand in a depth.
        patch.setattr(moves_ahead, "_LEAST_ROWS", 1)
        return read_repertoire_text(text)


def resolved(text: str) -> MovesAhead:
    tree = WordTree()
    tree.take(tokens(text))
    for _ in tree.resolve():
        pass
    assert tree.ahead is not None
    return tree.ahead


def in_full(loaded: LoadedRepertoire) -> list[object]:
    """All that was read, in its order."""
    repertoire = loaded.repertoire
    moves = [
        (key, node.packed, [(e.move, e.san, e.child.key, e.nags, e.comments) for e in node.edges])
        for key, node in repertoire.nodes.items()
    ]
    sections = [
        (section.tags, section.intro, [edge.san for edge in section.stands])
        for section in repertoire.sections
    ]
    return [moves, sections, loaded.skipped, repertoire.side, len(repertoire.claims)]


def same_both_ways(text: str) -> None:
    assert in_full(read(text, 0)) == in_full(read(text, NEVER))


@settings(deadline=None, max_examples=100)
@given(seed=SEEDS, tidy=st.booleans())
def test_files_with_everything_in_them(seed: int, tidy: bool) -> None:
    same_both_ways(TextMaker(random.Random(seed), tidy=tidy).file())


@settings(deadline=None, max_examples=200)
@given(words=st.lists(st.sampled_from(SCRAPS), max_size=60))
def test_any_text(words: list[str]) -> None:
    try:
        same_both_ways(" ".join(words))
    except StemlineError as error:
        pytest.fail(str(error))


def test_bad_moves_odd_spellings_and_games_that_begin_elsewhere() -> None:
    same_both_ways(
        '[Event "a"]\n\n1. e4 e5 2. Qh9 (2. Nf3 Nc6 (2... Zz) 3. Bb5) 2. e2e4 Nf6 *\n\n'
        '[Event "b"]\n[FEN "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"]\n[SetUp "1"]\n\n1. e4 Kd7 *\n\n'
        '[Event "c"]\n\n1. e4 e5 2. Nf3 d6 1. d4 d5 2. Ngf3 (2. c4 dxc4) ) 2... -- *\n\n'
        '[Event "d"]\n\n( 1. c4 ) 1. c4 0-0 *\n\n1. g1f3 Nf6 2. Ng1 (2. g3) *\n'
    )


def test_a_large_tree_is_resolved_whole_and_rightly() -> None:
    """Every move of 1,200 random lines, on the boards of python-chess."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("tests.benchmarks.bench_reading.LINES", 1200)
        tree = Tree(5)
    text = tree.as_one_game()
    loaded = read_repertoire_text(text)
    assert not loaded.skipped
    ahead = resolved(text)
    found = [node for node, before in enumerate(ahead.before) if before is not None]
    left = len(loaded.repertoire.nodes) - 1 - len(found)
    # What is left stands where a depth holds few positions.
    assert 0 <= left < 0.1 * len(found)
    for node in random.Random(1).sample(found, 2000):
        key = ahead.before[node]
        assert key is not None
        board = loaded.repertoire.nodes[key].board()
        assert board.san(ahead.moves[node]) == ahead.sans[node]
        board.push(ahead.moves[node])
        assert position_key(board) == ahead.keys[node]
        assert pack_position(board) == ahead.packed(node)
    same_both_ways(text)


def test_a_word_that_is_no_move_is_not_taken_for_the_move_beside_it(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(moves_ahead, "_LEAST_ROWS", 1)
    text = '[Event "a"]\n\n1. e4 ( <d4> c5 ) e5 ( 1... §c5 2. Nf3 ) 2. Nf3 *\n'
    assert [before is not None for before in resolved(text).before].count(True) == 3
    loaded = read(text, 0)
    assert len(loaded.skipped) == 2
    same_both_ways(text)


def test_progress_rises_and_reading_can_be_stopped_at_any_moment() -> None:
    text = "".join(f'[Event "{n}"]\n\n1. e4 e5 2. Nf3 Nc6 3. Bb5 a6 *\n\n' for n in range(400))
    shares: list[float] = []
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reader, "_LARGE", 0)
        patch.setattr(moves_ahead, "_LEAST_ROWS", 1)
        read_repertoire_text(text, progress=shares.append)
        assert shares == sorted(shares)
        assert shares[-1] == 1.0
        for after in range(len(shares) - 1):
            asked = count()
            with pytest.raises(ReadingCancelledError):
                read_repertoire_text(text, cancelled=lambda: next(asked) == after)  # noqa: B023
        assert read_repertoire_text(text, cancelled=lambda: False).repertoire.nodes
