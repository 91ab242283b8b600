"""Pieces on their way: 150 ms from square to square, cut short by whatever comes next."""

from __future__ import annotations

from PySide6.QtCore import QEasingCurve, QObject, QVariantAnimation, Signal

from trainer.ui.board.moves import STILL, Transition

DURATION_MS = 150


class Motion(QObject):
    """Runs one transition at a time. `stepped` asks for a repaint, also after the last step."""

    stepped = Signal()

    def __init__(self, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.transition = STILL
        self.progress = 1.0
        self._animation = QVariantAnimation(self)
        self._animation.setDuration(DURATION_MS)
        self._animation.setStartValue(0.0)
        self._animation.setEndValue(1.0)
        self._animation.setEasingCurve(QEasingCurve.Type.Linear)
        self._animation.valueChanged.connect(self._step)
        self._animation.finished.connect(self.finish)

    @property
    def running(self) -> bool:
        """Whether pieces are on their way."""
        return bool(self.transition.glides)

    def start(self, transition: Transition) -> None:
        """Finish what runs and begin a transition."""
        self.finish()
        self.transition, self.progress = transition, 0.0
        # Qt does not tell the first value of the very first run.
        self.stepped.emit()
        self._animation.start()

    def finish(self) -> None:
        """Bring everything to its end at once."""
        if self.running:
            self.transition, self.progress = STILL, 1.0
            self._animation.stop()
            self.stepped.emit()

    def _step(self, value: float) -> None:
        if self.running:
            self.progress = value
            self.stepped.emit()
