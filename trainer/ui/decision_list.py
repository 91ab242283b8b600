"""A list of decisions: diagram, prepared move, how each is reached, and why it is listed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from trainer.ui.labels import text_label
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.memory.today import NotedDecision

_DIAGRAM = 124


class DecisionList(QWidget):
    """A row for each decision; a press on it shows the position with its note.

    Where a wrong move was made, a button asks what speaks against it.
    """

    #: A `NotedDecision` each.
    chosen = Signal(object)
    why_not = Signal(object)

    def __init__(self, *, empty: str = "", most: int = 5, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setProperty("role", "row")
        self._empty = empty
        self._most = most
        self._rows = QVBoxLayout(self)
        self._rows.setContentsMargins(0, 0, 0, 0)

    def show_decisions(self, decisions: Sequence[NotedDecision], look: Look) -> None:
        """Replace the rows; of more than `most`, the first ones and a count."""
        # Not needed for the first paint of the window, which these would hold up.
        from trainer.notation.display import shown_san
        from trainer.ui.position_row import clear_layout, position_row

        clear_layout(self._rows)
        if not decisions and self._empty:
            self._rows.addWidget(text_label(self._empty, "muted"))
        for one in decisions[: self._most]:
            self._rows.addWidget(
                position_row(
                    one.node.board(),
                    shown_san(one.edge.san, look.notation),
                    [one.order.text(look.notation, limit=60), one.remark],
                    side=round(_DIAGRAM * look.scale),
                    theme=look.theme,
                    flipped=look.flipped,
                    pressed=lambda one=one: self.chosen.emit(one),
                    question=self._question(one, look),
                )
            )
        if len(decisions) > self._most:
            more = len(decisions) - self._most
            self._rows.addWidget(text_label(f"and {more} more", "muted"))

    def _question(self, one: NotedDecision, look: Look) -> tuple[str, Callable[[], None]] | None:
        from trainer.notation.display import shown_san

        if one.played is None:
            return None
        san = shown_san(one.node.board().san(one.played), look.notation)
        return f"Why not {san}?", lambda: self.why_not.emit(one)
