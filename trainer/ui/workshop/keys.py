"""The keys of the workshop, for the box that lists them."""

from __future__ import annotations

_KEYS = (
    ("← →", "one move back, along the chosen line"),
    ("↑ ↓", "choose a line; with Ctrl, move it up or down"),
    ("Home", "back to where the section begins"),
    ("W", "write why the move is played; Esc or Ctrl+Enter ends writing"),
    ("P, T", "write a plan, a trick"),
    ("S", "signs of the move"),
    ("M", "make the chosen line the main one"),
    ("Del", "delete the chosen line with what hangs on it"),
    ("Ctrl+V", "paste moves or PGN"),
    ("X", "come here by another move order"),
    ("V", "turn the board"),
    ("Ctrl+Z, Ctrl+Shift+Z", "undo, redo"),
    ("Ctrl+S", "save"),
    ("Ctrl+R", "what is to be put right"),
    ("Esc", "back to where you came from"),
)


def workshop_keys_text() -> str:
    """The keys, a line each."""
    return "\n".join(
        [
            "Type a move and press Enter, or play it on the board: a known one is walked, a new "
            "one is added.",
            "",
            *(f"{keys}\t{what}" for keys, what in _KEYS),
        ]
    )
