"""Notes as paragraphs of a comment: reasons, plans and tricks."""

from __future__ import annotations

import chess.pgn
import pytest

from trainer.notation.nags import SIGNS, SUFFIXES, glyphs, meanings
from trainer.repertoire.notes import NoteKind, lead, note_kind, sorted_notes, without_lead


@pytest.mark.parametrize(
    ("paragraph", "kind", "text"),
    [
        ("The bishop goes to g2.", NoteKind.REASON, "The bishop goes to g2."),
        ("Plan: e4, Nbd2 and Re1.", NoteKind.PLAN, "e4, Nbd2 and Re1."),
        ("plan:e4", NoteKind.PLAN, "e4"),
        ("  Trick: 5…Nxe4? 6 Rxe4.", NoteKind.TRICK, "5…Nxe4? 6 Rxe4."),
        ("Planning ahead: e4.", NoteKind.REASON, "Planning ahead: e4."),
        ("A plan: e4.", NoteKind.REASON, "A plan: e4."),
    ],
)
def test_kind_and_text(paragraph: str, kind: NoteKind, text: str) -> None:
    assert note_kind(paragraph) is kind
    assert without_lead(paragraph) == text


def test_sorted_by_kind_in_their_order_and_nothing_lost() -> None:
    found = sorted_notes(["Why.", "Trick: a.", "Plan: b.", "More.", "Plan: c.", "Plan:"])
    assert found == {
        NoteKind.REASON: ["Why.", "More."],
        NoteKind.PLAN: ["b.", "c."],
        NoteKind.TRICK: ["a."],
    }


def test_a_lead_is_plain_words() -> None:
    # No commands in brackets: any program shows them as they are.
    assert [lead(kind) for kind in NoteKind] == ["", "Plan:", "Trick:"]


def test_signs_have_the_numbers_of_python_chess() -> None:
    # python-chess 1.11.2 names these after the PGN standard (Edwards, 1994), section 10.
    named = {
        chess.pgn.NAG_GOOD_MOVE: "!",
        chess.pgn.NAG_MISTAKE: "?",
        chess.pgn.NAG_BRILLIANT_MOVE: "!!",
        chess.pgn.NAG_BLUNDER: "??",
        chess.pgn.NAG_SPECULATIVE_MOVE: "!?",
        chess.pgn.NAG_DUBIOUS_MOVE: "?!",
    }
    assert {nag: glyphs([nag]) for nag in sorted(SUFFIXES)} == named
    words = {
        chess.pgn.NAG_FORCED_MOVE: "forced",
        chess.pgn.NAG_DRAWISH_POSITION: "drawish",
        chess.pgn.NAG_QUIET_POSITION: "quiet",
        chess.pgn.NAG_ACTIVE_POSITION: "active",
        chess.pgn.NAG_UNCLEAR_POSITION: "unclear",
        chess.pgn.NAG_WHITE_SLIGHT_ADVANTAGE: "White has a slight advantage",
        chess.pgn.NAG_BLACK_SLIGHT_ADVANTAGE: "Black has a slight advantage",
        chess.pgn.NAG_WHITE_MODERATE_ADVANTAGE: "White has a moderate advantage",
        chess.pgn.NAG_BLACK_MODERATE_ADVANTAGE: "Black has a moderate advantage",
        chess.pgn.NAG_WHITE_DECISIVE_ADVANTAGE: "White has a decisive advantage",
        chess.pgn.NAG_BLACK_DECISIVE_ADVANTAGE: "Black has a decisive advantage",
        chess.pgn.NAG_WHITE_ZUGZWANG: "White is in zugzwang",
        chess.pgn.NAG_BLACK_ZUGZWANG: "Black is in zugzwang",
        chess.pgn.NAG_WHITE_MODERATE_COUNTERPLAY: "White has moderate counterplay",
        chess.pgn.NAG_BLACK_MODERATE_COUNTERPLAY: "Black has moderate counterplay",
        chess.pgn.NAG_WHITE_MODERATE_TIME_PRESSURE: "White has moderate time control pressure",
        chess.pgn.NAG_BLACK_MODERATE_TIME_PRESSURE: "Black has moderate time control pressure",
    }
    for nag, word in words.items():
        assert word in SIGNS[nag][1]
    assert meanings([1, 200]) == ["good move", "sign 200"]
    assert glyphs([5, 16, 200]) == "!? ± $200"
