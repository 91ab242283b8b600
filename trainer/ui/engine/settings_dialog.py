"""Which engine, how much of the computer it may use, and how long it thinks."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import Qt
from PySide6.QtWidgets import (
    QComboBox,
    QDialog,
    QDialogButtonBox,
    QFileDialog,
    QFormLayout,
    QPushButton,
    QScrollArea,
    QSpinBox,
    QVBoxLayout,
    QWidget,
)

from trainer.engine.discover import installed_engines
from trainer.ui.engine.words import FAIR_PLAY, SILENT
from trainer.ui.labels import text_label

if TYPE_CHECKING:
    from trainer.storage.settings import Settings
    from trainer.ui.engine.adviser import Adviser
    from trainer.ui.engine.worker import Request

_NODES = (20_000, 50_000, 100_000, 200_000, 500_000, 1_000_000)


class EngineDialog(QDialog):
    """Edits a copy of the settings; an engine is started only to be tested."""

    def __init__(
        self, settings: Settings, adviser: Adviser, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.setWindowTitle("The engine")
        self._settings = settings
        self._adviser = adviser
        self._request: Request | None = None
        self.engine = QComboBox()
        self.engine.setMinimumContentsLength(24)
        self.engine.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.other = QPushButton("&Another program …")
        self.test = QPushButton("&Try it")
        self.said = text_label("", "muted")
        self.hash = self._number(1, 65_536, settings.engine_hash_mb, " MiB")
        self.threads = self._number(1, 512, settings.engine_threads, "")
        self.threads.setMaximum(max(settings.engine_threads, os.cpu_count() or 1))
        self.seconds = self._number(1, 3_600, settings.engine_seconds, " s")
        self.margin = self._number(10, 1_000, settings.engine_margin, " centipawns")
        self.nodes = QComboBox()
        for nodes in sorted({*_NODES, settings.engine_nodes}):
            self.nodes.addItem(f"{nodes:,} nodes", nodes)
        self.nodes.setCurrentIndex(self.nodes.findData(settings.engine_nodes))
        self._fill(settings.engine)
        self._build()

    @staticmethod
    def _number(low: int, high: int, value: int, suffix: str) -> QSpinBox:
        box = QSpinBox()
        box.setRange(low, high)
        box.setValue(value)
        box.setSuffix(suffix)
        box.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        return box

    def _build(self) -> None:
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.other.clicked.connect(self._choose)
        self.test.clicked.connect(self._try)
        self.engine.currentIndexChanged.connect(lambda _index: self.said.setText(""))
        page = QWidget()
        form = QFormLayout(page)
        form.addRow("En&gine", self.engine)
        form.addRow("", self.other)
        form.addRow("", self.test)
        form.addRow("", self.said)
        form.addRow("&Memory", self.hash)
        form.addRow("Processor t&hreads", self.threads)
        form.addRow("Time for one &look", self.seconds)
        form.addRow("A &position of a test", self.nodes)
        form.addRow("A move &fails by", self.margin)
        form.addRow(text_label(FAIR_PLAY, "muted"))
        scroll = QScrollArea()
        scroll.setWidgetResizable(True)
        scroll.setFrameShape(QScrollArea.Shape.NoFrame)
        scroll.setWidget(page)
        scroll.setMinimumWidth(page.sizeHint().width() + 24)
        scroll.setMinimumHeight(min(page.sizeHint().height() + 40, 560))
        outer = QVBoxLayout(self)
        outer.addWidget(scroll, 1)
        outer.addWidget(buttons)

    def _fill(self, chosen: str | None) -> None:
        self.engine.clear()
        self.engine.addItem("The first one that is installed", None)
        for path in installed_engines():
            self.engine.addItem(f"{path.name}  ({path.parent})", str(path))
        if chosen is not None:
            if self.engine.findData(chosen) < 0:
                path = Path(chosen)
                self.engine.addItem(f"{path.name}  ({path.parent})", chosen)
            self.engine.setCurrentIndex(self.engine.findData(chosen))
        if self.engine.count() == 1:
            self.said.setText("No engine was found; choose the file of a program that speaks UCI.")

    def _choose(self) -> None:
        chosen = self.engine.currentData()
        folder = str(Path(chosen).parent) if chosen else str(Path.home())
        path, _filter = QFileDialog.getOpenFileName(self, "Choose an engine", folder)
        if path:
            self.offer(Path(path))

    def offer(self, path: Path) -> None:
        """Put a program on the list, choose it and try it."""
        self._fill(str(path))
        self._try()

    def _try(self) -> None:
        """Shake hands with the engine that is chosen."""
        from trainer.engine.discover import engine_to_use
        from trainer.errors import EngineError

        try:
            path = engine_to_use(self.engine.currentData())
        except EngineError as error:
            self.said.setText(str(error))
            return
        if self._adviser.silent:
            self.said.setText(SILENT)
            return
        self.said.setText(f"{path.name} is being started …")
        self._adviser.give_up(self._request)
        self._adviser.set_settings(self.settings())
        self._request = self._adviser.shake_hands(
            path,
            done=lambda name: self.said.setText(f"It answers: {name}."),
            failed=self.said.setText,
        )

    def settings(self) -> Settings:
        """The settings as they stand in the dialog."""
        return replace(
            self._settings,
            engine=self.engine.currentData(),
            engine_hash_mb=self.hash.value(),
            engine_threads=self.threads.value(),
            engine_seconds=self.seconds.value(),
            engine_nodes=self.nodes.currentData(),
            engine_margin=self.margin.value(),
        )

    def done(self, result: int) -> None:
        self._adviser.give_up(self._request)
        self._adviser.set_settings(self._settings)
        super().done(result)
