"""The list of games with what narrows it down, where the games come from, and whose they are."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QComboBox,
    QFileDialog,
    QHBoxLayout,
    QLineEdit,
    QMenu,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from trainer.resources import repertoire_path
from trainer.ui.games.entries import Kind
from trainer.ui.games.shelf import Sources
from trainer.ui.games.table import GameTable
from trainer.ui.labels import text_label
from trainer.ui.look import Look

if TYPE_CHECKING:
    from trainer.ui.games.entries import Gathered

#: Below this width (at 100 %) the controls stand in two rows.
_ONE_ROW = 760
_NAMES: Final = 60
_TROUBLES: Final = 2
EVERYBODY: Final = "Everybody’s games"
DEMO_GAMES: Final = "demo-games.pgn"
_EMPTY = (
    "Add the games you have played, as PGN files. Each is held against the open repertoire: how "
    "far it was known, who left with what, and where it came back. New games in a watched folder "
    "appear here by themselves."
)


class ListPanel(QWidget):
    """Shows the list, or in its place what to do to get one."""

    #: A `GameEntry` to show in full.
    opened = Signal(object)
    #: The files and the folders with the games from now on, two tuples of names.
    sources_wanted = Signal(tuple, tuple)
    #: The name of the player, "" for everybody's games.
    player_chosen = Signal(str)
    #: Reading is to stop, and to begin again.
    stop_wanted = Signal()
    go_on_wanted = Signal()

    def __init__(self, look: Look, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._look = look
        self._sources = Sources()
        self._gathered: Gathered | None = None
        self._stopped = False
        self.filter = QLineEdit()
        self.kind = QComboBox()
        self.player = QComboBox()
        self.files = QToolButton()
        self.table = GameTable()
        self.all = QPushButton("Show &all games")
        self.stop = QPushButton("S&top")
        self.add = QPushButton("Add &games …")
        self.watch = QPushButton("&Watch a folder …")
        self.demo = QPushButton("Look at the &demo games")
        self._status = text_label("", "muted")
        self._empty = text_label(_EMPTY, "note")
        self._menu = QMenu(self)
        self._build()
        self._connect()
        self.setAcceptDrops(True)
        self.set_look(look)
        self.show_gathered(None, "")

    def _build(self) -> None:
        self.filter.setPlaceholderText("Filter (Ctrl+F)")
        self.filter.setAccessibleName("Show only games with these words")
        self.filter.setClearButtonEnabled(True)
        self.kind.addItems([str(kind) for kind in Kind])
        self.kind.setAccessibleName("Which games")
        self.player.setAccessibleName("Whose games")
        self.files.setText("&Files")
        self.files.setMenu(self._menu)
        self.files.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.files.setToolTip("Where the games are")
        for box in (self.filter, self.kind, self.player):
            box.setMinimumWidth(60)
        self._controls = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        first, second = QHBoxLayout(), QHBoxLayout()
        first.addWidget(self.filter, 2)
        first.addWidget(self.kind, 2)
        second.addWidget(self.player, 2)
        second.addWidget(self.files)
        self._controls.addLayout(first, 3)
        self._controls.addLayout(second, 2)
        status = QHBoxLayout()
        status.addWidget(self._status, 1)
        status.addWidget(self.all, 0, Qt.AlignmentFlag.AlignTop)
        status.addWidget(self.stop, 0, Qt.AlignmentFlag.AlignTop)
        buttons = QVBoxLayout()
        for button in (self.add, self.watch, self.demo):
            buttons.addWidget(button, 0, Qt.AlignmentFlag.AlignLeft)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.addLayout(self._controls)
        column.addWidget(self._empty)
        column.addLayout(buttons)
        column.addWidget(self.table, 1)
        column.addLayout(status)
        column.addStretch(0)
        self.stop.hide()
        self.all.hide()

    def _connect(self) -> None:
        self.filter.textChanged.connect(lambda _text: self._narrow())
        self.filter.returnPressed.connect(self.table.setFocus)
        self.kind.currentIndexChanged.connect(lambda _number: self._narrow())
        self.player.activated.connect(self._player_activated)
        self.table.opened.connect(self.opened)
        self.all.clicked.connect(lambda _checked=False: self.show_all())
        self.stop.clicked.connect(lambda _checked=False: self._stop_or_go_on())
        self.add.clicked.connect(lambda _checked=False: self.ask_for_files())
        self.watch.clicked.connect(lambda _checked=False: self.ask_for_folder())
        self.demo.clicked.connect(lambda _checked=False: self._take_demo())
        self._menu.aboutToShow.connect(self._fill_menu)

    def set_look(self, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.table.set_look(look)
        self._arrange()

    # -- games ---------------------------------------------------------------------------------

    def show_gathered(
        self, gathered: Gathered | None, player: str, troubles: Sequence[str] = ()
    ) -> None:
        """Show what was found, or nothing yet."""
        chosen = self.table.current()
        self._gathered = gathered
        self._stopped = False
        self.table.games.set_entries(() if gathered is None else gathered.entries)
        self._fill_players(gathered, player)
        row = self.table.games.row_of(chosen)
        if self.table.games.rowCount():
            self.table.choose(row)
        nothing = gathered is None or not self._sources
        self.say("" if nothing else _summary(gathered, troubles))
        self._show_parts()

    def _fill_players(self, gathered: Gathered | None, player: str) -> None:
        names = [] if gathered is None else [n for n, _ in gathered.names.most_common(_NAMES)]
        if gathered is not None and gathered.choices:
            names = [*gathered.choices, *(n for n in names if n not in gathered.choices)]
        if player and player not in names:
            names.insert(0, player)
        self.player.clear()
        self.player.addItem(EVERYBODY)
        self.player.addItems(names)
        self.player.setCurrentIndex(names.index(player) + 1 if player else 0)

    def _player_activated(self, number: int) -> None:
        self.player_chosen.emit("" if number == 0 else self.player.itemText(number))

    def show_only(self, walks: Any) -> None:
        """Show only the games of these walks."""
        self.filter.clear()
        self.kind.setCurrentIndex(0)
        self.table.games.show_only(walks)
        self.table.choose(0)
        self._show_parts()

    def show_all(self) -> None:
        """Show every game again."""
        self.filter.clear()
        self.kind.setCurrentIndex(0)
        self.table.games.show_only(None)
        self._show_parts()

    def _narrow(self) -> None:
        chosen = self.table.current()
        kind = list(Kind)[max(0, self.kind.currentIndex())]
        self.table.games.set_filter(self.filter.text(), None if kind is Kind.ALL else kind)
        self.table.choose(self.table.games.row_of(chosen))
        self._show_parts()

    def _show_parts(self) -> None:
        """The list where there are games, else what to do."""
        some = self._gathered is not None and bool(self._gathered.entries)
        nothing = not self._sources
        for part in (self.filter, self.kind, self.table):
            part.setVisible(some)
        self.player.setVisible(some or (self._gathered is not None and bool(self._sources)))
        self.files.setVisible(not nothing)
        for part in (self._empty, self.add, self.watch):
            part.setVisible(nothing)
        self.demo.setVisible(nothing and repertoire_path(DEMO_GAMES).exists())
        narrowed = bool(self.filter.text()) or self.kind.currentIndex() > 0
        self.all.setVisible(some and (narrowed or self.table.games.narrowed))
        self._arrange()

    def take_focus(self) -> None:
        """Give the keys to what can be used first."""
        if self.table.isVisible():
            self.table.setFocus()
        elif self.add.isVisible():
            self.add.setFocus()
        else:
            self.files.setFocus()

    # -- status --------------------------------------------------------------------------------

    @property
    def status(self) -> str:
        """What is said below the list."""
        return self._status.text()

    def say(self, sentence: str) -> None:
        """Say a sentence below the list."""
        self._status.setText(sentence)
        self._status.setVisible(bool(sentence))

    def say_counted(self, count: int) -> None:
        """Say that forgotten decisions have been counted for memory."""
        what = "1 forgotten decision" if count == 1 else f"{count} forgotten decisions"
        now = "counts" if count == 1 else "count"
        self.say(f"{self.status} {what} now {now} for memory; see Forgotten.".strip())

    def show_progress(self, share: float) -> None:
        """Say how much of the files has been read."""
        self.say(f"Reading games … {share:.0%}")
        self._stopped = False
        self.stop.setText("S&top")
        self.stop.show()

    def rest(self) -> None:
        """Nothing is being read any more."""
        self.stop.setText("&Go on")
        self.stop.setVisible(self._stopped)
        if self._stopped:
            self.say("Reading was stopped, so games are missing here.")

    def _stop_or_go_on(self) -> None:
        self._stopped = not self._stopped
        if self._stopped:
            self.stop_wanted.emit()
        else:
            self.say("")
            self.stop.hide()
            self.go_on_wanted.emit()

    # -- where the games are -------------------------------------------------------------------

    def show_sources(self, sources: Sources) -> None:
        """Tell where the games come from."""
        self._sources = sources
        self._show_parts()

    def _fill_menu(self) -> None:
        self._menu.clear()
        self._menu.addAction("Add &games …").triggered.connect(
            lambda _checked=False: self.ask_for_files()
        )
        self._menu.addAction("&Watch a folder …").triggered.connect(
            lambda _checked=False: self.ask_for_folder()
        )
        self._menu.addSeparator()
        for path in (*self._sources.files, *self._sources.folders):
            name = path.name.replace("&", "&&")
            kind = "folder" if path in self._sources.folders else "file"
            action = self._menu.addAction(f"Leave out the {kind} {name}")
            action.setToolTip(str(path))
            action.triggered.connect(lambda _checked=False, path=path: self._leave_out(path))

    def ask_for_files(self) -> None:
        """Ask for PGN files and add them."""
        names, _kind = QFileDialog.getOpenFileNames(
            self, "Add games", self._folder(), "Games in PGN (*.pgn *.PGN);;All files (*)"
        )
        self.add_paths([Path(name) for name in names])

    def ask_for_folder(self) -> None:
        """Ask for a folder and watch it."""
        name = QFileDialog.getExistingDirectory(self, "Watch a folder", self._folder())
        if name:
            self.add_paths([Path(name)])

    def _folder(self) -> str:
        known = (*self._sources.folders, *(path.parent for path in self._sources.files))
        return str(known[0] if known else Path.home())

    def add_paths(self, paths: Sequence[Path]) -> None:
        """Add files and folders to where the games come from."""
        if not paths:
            return
        files = dict.fromkeys(map(str, self._sources.files))
        folders = dict.fromkeys(map(str, self._sources.folders))
        for path in paths:
            (folders if path.is_dir() else files)[str(path.resolve())] = None
        self.sources_wanted.emit(tuple(files), tuple(folders))

    def _leave_out(self, path: Path) -> None:
        self.sources_wanted.emit(
            tuple(str(one) for one in self._sources.files if one != path),
            tuple(str(one) for one in self._sources.folders if one != path),
        )

    def _take_demo(self) -> None:
        self.add_paths([repertoire_path(DEMO_GAMES)])

    # -- room and dropping ---------------------------------------------------------------------

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        if _dropped(event):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        if paths := _dropped(event):
            event.acceptProposedAction()
            self.add_paths(paths)

    def resizeEvent(self, event: QResizeEvent) -> None:
        super().resizeEvent(event)
        self._arrange()

    def _arrange(self) -> None:
        narrow = self.width() < _ONE_ROW * self._look.scale
        self._controls.setDirection(
            QBoxLayout.Direction.TopToBottom if narrow else QBoxLayout.Direction.LeftToRight
        )


def _dropped(event: QDropEvent) -> list[Path]:
    """The PGN files and folders of what is being dragged."""
    paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
    return [path for path in paths if path.is_dir() or path.suffix.lower() == ".pgn"]


def _summary(gathered: Gathered, troubles: Sequence[str]) -> str:
    """How many games there are, and what the player must know about them."""
    if gathered.trouble:
        return gathered.trouble
    count = len(gathered.entries)
    parts = [f"{count:,} game" + ("" if count == 1 else "s")]
    if gathered.others:
        parts.append(f"{gathered.others:,} of other players left aside")
    if gathered.twice:
        parts.append(f"{gathered.twice:,} stood in the files more than once")
    told = [", ".join(parts) + "."]
    if gathered.player is not None and gathered.player.unclear:
        names = ", ".join(f"“{name}”" for name in gathered.player.unclear[:3])
        told.append(f"Left aside, since another player may be meant: {names}.")
    told += [f"{trouble.rstrip('.')}." for trouble in troubles[:_TROUBLES]]
    if len(troubles) > _TROUBLES:
        told.append(f"And {len(troubles) - _TROUBLES:,} more games or files with such faults.")
    return " ".join(told)
