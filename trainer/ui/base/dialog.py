"""Choosing a reference base, building one from files, going on with a build that was stopped."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QSize, Qt
from PySide6.QtWidgets import QDialog, QFileDialog, QProgressBar, QPushButton, QVBoxLayout, QWidget

from trainer.ui.button_grid import ButtonGrid
from trainer.ui.labels import scrolled_column, text_label

if TYPE_CHECKING:
    from trainer.games.base.store import ReferenceBase
    from trainer.ui.base.desk import BaseDesk

_WHAT = (
    "A reference base holds many games, by anybody. Against it the program says how often a "
    "position was reached, what was played there and with what results, and which move of a game "
    "was new. It is made from PGN files that you have; nothing is fetched."
)
_NAME = "reference.base"
_MOST_LINES = 200
_BASES = "Reference bases (*.base);;All files (*)"
_GAMES = "Games in PGN (*.pgn *.PGN);;All files (*)"


class BaseDialog(QDialog):
    """Stays open while a build goes on, and may be closed meanwhile."""

    def __init__(self, desk: BaseDesk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._desk = desk
        self._target: Path | None = None
        #: The base whose left-out games are listed.
        self._left_of: Path | None = None
        self.which = text_label("", "heading")
        self.holds = text_label("", "muted")
        self.add = QPushButton("&Add games …")
        self.new = QPushButton("&New base …")
        self.open = QPushButton("&Open a base …")
        self.none = QPushButton("&Use none")
        self.left = QPushButton("What was &left out")
        self.go_on = QPushButton("&Go on with the build")
        self.stop = QPushButton("&Stop")
        self.bar = QProgressBar()
        self.bar.setRange(0, 1000)
        self.bar.setFormat("%p %")
        self.bar.setAccessibleName("Progress of the build")
        self.told = text_label("")
        self.told.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        close = QPushButton("&Close")
        close.clicked.connect(lambda _checked=False: self.close())
        column = QVBoxLayout(self)
        buttons = ButtonGrid([self.add, self.new, self.open, self.none, self.left])
        words = [text_label(_WHAT, "note"), self.which, self.holds, self.told]
        column.addWidget(scrolled_column(words), 1)
        column.addWidget(self.bar)
        column.addWidget(buttons)
        column.addWidget(ButtonGrid([self.go_on, self.stop, close]))
        self.setWindowTitle("Reference base")
        self.resize(QSize(560, 420) * min(desk.look.scale, 1.5))
        self._connect()
        self.renew()

    def _connect(self) -> None:
        self.add.clicked.connect(lambda _checked=False: self._add())
        self.new.clicked.connect(lambda _checked=False: self._new())
        self.open.clicked.connect(lambda _checked=False: self._open())
        self.none.clicked.connect(lambda _checked=False: self._desk.choose(None))
        self.left.clicked.connect(lambda _checked=False: self._tell_left())
        self.go_on.clicked.connect(lambda _checked=False: self._go_on())
        self.stop.clicked.connect(lambda _checked=False: self._stop())
        self._desk.changed.connect(self.renew)
        self._desk.progressed.connect(self._progress)
        self._desk.built.connect(self._built)

    def renew(self) -> None:
        """Show what is chosen now and what can be done."""
        from trainer.games.base.builder import pending_files
        from trainer.ui.base.desk import describe

        desk, path = self._desk, self._desk.path
        self.which.setText("No base is chosen." if path is None else path.name)
        self.which.setToolTip("" if path is None else str(path).replace("<", "‹"))
        self.holds.setText("")
        if self._left_of is not None and self._left_of != path:
            self.told.setText("")
            self._left_of = None
        if path is not None:
            desk.describe(path, self.holds.setText, describe)
        target = path or desk.folder / _NAME
        self._target = target
        pending = pending_files(target)
        building = desk.is_building
        self.go_on.setVisible(bool(pending) and not building)
        self.stop.setVisible(building)
        self.bar.setVisible(building)
        self.add.setEnabled(not building)
        self.new.setEnabled(not building)
        self.open.setEnabled(not building)
        self.left.setEnabled(path is not None)
        self.none.setEnabled(path is not None and not building)
        if pending and not building and not self.told.text():
            names = ", ".join(file.name for file in pending[:3])
            more = f" and {len(pending) - 3} more files" if len(pending) > 3 else ""
            self.told.setText(f"A build from {names}{more} was stopped before its end.")

    # -- what the buttons do -----------------------------------------------------------------

    def _add(self) -> None:
        """Add games to the chosen base, or make the usual one of them."""
        self._build(self._desk.path or self._desk.folder / _NAME)

    def _new(self) -> None:
        name, _ = QFileDialog.getSaveFileName(
            self, "New reference base", str(self._desk.folder / _NAME), _BASES
        )
        if not name:
            return
        path = Path(name) if Path(name).suffix else Path(f"{name}.base")
        files = self._ask_for_games()
        if not files:
            return
        try:
            # The box has asked whether it may be replaced, and there is something to put there.
            path.unlink(missing_ok=True)
        except OSError as error:
            self.told.setText(
                f"{path} cannot be replaced ({error.strerror}); choose another name."
            )
            return
        self.build(path, files)

    def _open(self) -> None:
        name, _ = QFileDialog.getOpenFileName(
            self, "Open a reference base", str(self._desk.folder), _BASES
        )
        if name:
            self.told.setText("")
            self._desk.choose(Path(name))

    def _build(self, path: Path) -> None:
        if files := self._ask_for_games():
            self.build(path, files)

    def _ask_for_games(self) -> list[Path]:
        names, _ = QFileDialog.getOpenFileNames(
            self, "Games for the base", str(Path.home()), _GAMES
        )
        return [Path(name) for name in names]

    def build(self, path: Path, files: list[Path]) -> None:
        """Begin a build and show how far it is."""
        self.told.setText("Reading the games. You can close this box and go on.")
        self.bar.setValue(0)
        self._desk.build(path, files)
        self.renew()

    def _go_on(self) -> None:
        from trainer.games.base.builder import pending_files

        if self._target is not None:
            self.build(self._target, list(pending_files(self._target)))

    def _tell_left(self) -> None:
        """List the games that are not in the figures, each with the reason."""

        def lines(base: ReferenceBase) -> str:
            from trainer.games.base.report import unused_lines

            unused = base.unused()
            found = unused_lines(unused[:_MOST_LINES])
            if len(unused) > len(found):
                found.append(f"… and {len(unused) - len(found):,} more.")
            return "\n".join(found) or "Every game is in the figures."

        self._left_of = self._desk.path
        self._desk.ask(lines, self.told.setText, self.told.setText)

    def _stop(self) -> None:
        self.told.setText("Stopping …")
        self.stop.setEnabled(False)
        self._desk.stop()

    def _progress(self, share: float) -> None:
        self.bar.setValue(round(1000 * share))

    def _built(self, sentences: str, _well: bool) -> None:
        self.told.setText(sentences)
        self.stop.setEnabled(True)
        self.renew()
