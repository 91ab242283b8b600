"""The check of a repertoire on small files whose numbers can be counted by hand."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import chess
import pytest

from trainer.repertoire.audit import audit
from trainer.repertoire.check_report import check_report
from trainer.repertoire.check_text import check_text
from trainer.repertoire.reader import read_repertoire_text
from trainer.repertoire.sharp import exchange_gain, is_sharp
from trainer.storage.answers import Answer, AnswerKind, Grade

#: Two orders to one position, one hole (2…c6), one conflict (after 1 Nf3 d5).
TEXT = """[Event "One"]
[RepertoireSide "White"]

1. Nf3 d5 2. g3 Nf6 (2... c6) 3. Bg2 *

[Event "Two"]

1. g3 d5 2. Nf3 *

[Event "Three"]

1. Nf3 d5 2. d4 xx *
"""


def test_the_counts() -> None:
    loaded = read_repertoire_text(TEXT)
    assert check_report(loaded) == {
        "side": "white",
        "sections": 3,
        "positions": 10,
        "moves": 10,
        # The start, after 1 Nf3 d5, after 1 g3 d5, after 2…Nf6.
        "decisions": 4,
        # 1…d5 twice, 2…Nf6, 2…c6.
        "replies": 4,
        "crossings": 1,
        # The start (Nf3 or g3) and after 1 Nf3 d5 (g3 or d4).
        "conflicts": 2,
        "holes": 1,
        "dead_ends": 1,
        "skipped": [{"game": 3, "line": 12, "reason": loaded.skipped[0].reason}],
    }
    json.dumps(check_report(loaded))


def test_the_text_names_what_is_wrong() -> None:
    text = check_text(read_repertoire_text(TEXT))
    assert "A repertoire for White." in text
    assert "1 Nf3 d5, in 90.0 % of games: g3 and d4 are both prepared as the main move." in text
    assert "1 Nf3 d5 2 g3 c6" in text
    assert "guessed" in check_text(read_repertoire_text("1. e4 e5 2. Nf3 *"))


def test_the_text_tells_what_is_often_missed_without_a_reason() -> None:
    loaded = read_repertoire_text('[RepertoireSide "White"]\n\n1. d3 d5 2. Nf3 {Why.} *')
    node = loaded.repertoire.roots[0]
    missed = [
        Answer(
            repertoire_id=1,
            key=node.key,
            move="d2d3",
            kind=AnswerKind.DRILL,
            grade=Grade.MISSED,
            played="e2e4",
            at=datetime(2026, 1, day, tzinfo=UTC),
        )
        for day in (1, 2)
    ]
    assert "Often missed" not in check_text(loaded)
    assert "d3 was missed 2 times out of 2" in check_text(loaded, missed)


def test_a_line_that_ends_in_mate_is_complete() -> None:
    text = '[RepertoireSide "White"]\n\n1. f3 e5 2. g4 Qh4# *'
    found = audit(read_repertoire_text(text).repertoire)
    assert (found.holes, found.dead_ends) == ([], [])


def test_a_line_that_stops_in_a_fight_is_a_dead_end() -> None:
    quiet = '[RepertoireSide "White"]\n\n1. e4 e5 2. Nf3 *'
    loose = '[RepertoireSide "White"]\n\n1. e4 e5 2. Qg4 d6 3. Qxc8 *'
    assert audit(read_repertoire_text(quiet).repertoire).dead_ends == []
    assert len(audit(read_repertoire_text(loose).repertoire).dead_ends) == 1


def test_an_empty_repertoire_has_nothing() -> None:
    loaded = read_repertoire_text("")
    assert set(audit(loaded.repertoire).counts().values()) == {0}
    assert check_text(loaded)


@pytest.mark.parametrize(
    ("fen", "uci", "gain"),
    [
        # Nothing guards the pawn.
        ("4k3/8/8/3p4/4P3/8/8/4K3 w - - 0 1", "e4d5", 1),
        # A pawn guards the pawn: one for one.
        ("4k3/8/4p3/3p4/4P3/8/8/4K3 w - - 0 1", "e4d5", 0),
        # The queen takes a guarded pawn.
        ("4k3/8/4p3/3p4/8/8/8/3QK3 w - - 0 1", "d1d5", -8),
        # Two rooks in a row against one guard: the second comes into sight behind the first.
        ("3rk3/8/8/3p4/8/8/3R4/3RK3 w - - 0 1", "d2d5", 1),
        # Two guards against two rooks.
        ("3rk3/3r4/8/3p4/8/8/3R4/3RK3 w - - 0 1", "d2d5", -4),
    ],
)
def test_exchanges_on_one_square(fen: str, uci: str, gain: int) -> None:
    # Counted by hand with pawn 1, rook 5, queen 9.
    assert exchange_gain(chess.Board(fen), chess.Move.from_uci(uci)) == gain


def test_a_check_is_sharp_and_the_start_is_not() -> None:
    assert is_sharp(chess.Board("4k3/8/8/8/8/8/4R3/4K3 b - - 0 1"))
    assert not is_sharp(chess.Board())
