"""Move orders as they are shown: where they begin, and what they must not give away."""

from __future__ import annotations

import pytest

from trainer.repertoire.orders import shown_order
from trainer.repertoire.reader import read_repertoire_text

_AFTER_E6 = "rnbqkbnr/pppp1ppp/4p3/8/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2"
_AFTER_E4 = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1"


def order_text(title: str, fen: str, moves: str) -> str:
    """How the first position of a section is announced."""
    loaded = read_repertoire_text(
        f'[Event "{title}"]\n[RepertoireSide "White"]\n[SetUp "1"]\n[FEN "{fen}"]\n\n{moves} *\n'
    )
    repertoire = loaded.repertoire
    return shown_order(repertoire, repertoire.sections[0].root, ()).text()


@pytest.mark.parametrize(
    ("title", "said"),
    [
        ("The closed door", "The closed door"),
        ("The closed door: 1 e4 e6", "The closed door: 1 e4 e6"),
        ("The closed door: 1 e4 e6 2 d3", "The closed door: 1 e4 e6"),
        ("The closed door (1. e4 e6 2.d3)", "The closed door (1. e4 e6"),
        ("The quiet d3", "The quiet"),
        ("d3", "A section"),
    ],
)
def test_a_title_does_not_answer_the_question_it_stands_over(title: str, said: str) -> None:
    text = order_text(title, _AFTER_E6, "2. d3 d5")
    assert text == f"{said}: the position it begins with"


def test_where_the_opponent_moves_first_the_answers_to_his_moves_are_not_told() -> None:
    text = order_text("Doors: 1...e6 2 d3", _AFTER_E4, "1... e6 (1... c5 2. Nf3) 2. d3")
    assert text == "Doors: 1...e6: the position it begins with"
