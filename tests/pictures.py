"""Takes the pictures that README.md shows, from the real window on the demo repertoire.

Two weeks of drills by an invented player are simulated first, through the same session that the
window runs, so that Today has something to show.
"""

from __future__ import annotations

import random
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from importlib import import_module
from pathlib import Path

import chess
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication

from trainer.games.base.builder import build_base
from trainer.memory.course import Course, read_course_file
from trainer.memory.days import StudyDays
from trainer.memory.drill import PromptKind
from trainer.resources import repertoire_path
from trainer.storage.locations import Locations, find_locations
from trainer.storage.log import BugLog
from trainer.storage.progress import ProgressStore
from trainer.storage.settings import Settings, save_settings
from trainer.ui import rooms
from trainer.ui.app import build_window
from trainer.ui.main_window import DEMO, MainWindow

OUT = Path(__file__).resolve().parent.parent / "docs" / "pictures"
DAYS = 14
SIZE = (1120, 760)


class Calendar:
    """A clock that is set by hand."""

    def __init__(self, now: datetime) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now


def simulate(locations: Locations, clock: Calendar) -> None:
    """Drill for ten minutes on each of `DAYS` days; four answers in five are right."""
    rng = random.Random(4)
    path = repertoire_path(DEMO)
    with ProgressStore.open(locations.progress_file, clock=clock) as store:
        loaded = read_course_file(path, store)
        course = Course(
            loaded, store, Settings(strangers=False), clock=clock, days=StudyDays(), rng=rng
        )
        for _ in range(DAYS):
            drill(course, clock, rng)
            clock.now += timedelta(days=1)


def drill(course: Course, clock: Calendar, rng: random.Random) -> None:
    """One session to its end."""
    session = course.begin(10)
    while (prompt := session.prompt) is not None:
        clock.now += timedelta(seconds=4)
        main = prompt.node.edges[0].move
        if session.correcting or prompt.is_repeat or rng.random() < 0.8:
            session.answer(main, 3.0)
        else:
            session.answer(other_move(prompt.board, main, rng), 3.0)
    course.finish(session.summary())


def other_move(board: chess.Board, main: chess.Move, rng: random.Random) -> chess.Move:
    return rng.choice([move for move in board.legal_moves if move != main])


def wait(ready: Callable[[], bool]) -> None:
    """Run the event loop until `ready`. Raises `TimeoutError`."""
    for _ in range(3_000):
        if ready():
            return
        QTest.qWait(10)
    raise TimeoutError("the window did not come so far")


def save(window: MainWindow, name: str) -> None:
    QTest.qWait(300)
    OUT.mkdir(parents=True, exist_ok=True)
    window.grab().save(str(OUT / f"{name}.png"))
    print(f"docs/pictures/{name}.png")


def take_pictures(app: QApplication, locations: Locations, clock: Calendar) -> None:
    """Today and the drill in light, the drill in dark."""
    for name in rooms._LATER_PARTS:
        import_module(name)
    for appearance in ("light", "dark"):
        settings = Settings(
            appearance=appearance,
            strangers=False,
            pace_seconds=0.0,
            games_files=(str(repertoire_path("demo-games.pgn")),),
            player="Linden, Mara",
            base_file=str(locations.data / "demo.base"),
            engine_seconds=3,
            engine_note_read=True,
        )
        save_settings(locations.settings_file, settings)
        log = BugLog(locations.log_file)
        window = build_window(app, locations, log, clock=clock, rng=random.Random(1))
        window.resize(*SIZE)
        window.show()
        ready: list[bool] = []
        window.ready.connect(lambda seen=ready: seen.append(True))
        window.open(repertoire_path(DEMO))
        wait(lambda seen=ready: bool(seen))
        save(window, f"today-{appearance}")
        picture_map(window, appearance)
        picture_orders(window, appearance)
        picture_games(window, appearance)
        picture_lesson(window, appearance)
        picture_workshop(window, appearance)
        picture_engine(window, appearance)
        picture_drill(window, appearance)
        window.close()


def picture_map(window: MainWindow, appearance: str) -> None:
    """The map, brought close around the start."""
    window.places.go(1)
    assert window.rooms.map is not None
    wait(lambda: window.rooms.map.chosen_node is not None)
    for _ in range(5):
        QTest.keyClick(window.rooms.map.canvas, Qt.Key.Key_Right)
    save(window, f"map-{appearance}")
    window.show_today()


def picture_orders(window: MainWindow, appearance: str) -> None:
    """The most reached crossing."""
    window.places.go(2)
    wait(lambda: not window._runner.busy() and not window.rooms.orders.seeker.unfinished)
    save(window, f"orders-{appearance}")
    window.show_today()


def picture_games(window: MainWindow, appearance: str) -> None:
    """A game that left the repertoire and came back, with what the base holds beside it."""
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    wait(lambda: place.gathered is not None and not window._runner.busy())
    place.list.filter.setText("pennywright 2026-06".replace("-", "."))
    place._open(place.list.table.games.entry(0))
    QTest.qWait(700)
    save(window, f"games-{appearance}")
    place._back()
    place.list.show_all()
    window.show_today()


def picture_lesson(window: MainWindow, appearance: str) -> None:
    """The closed structure of the attack, with an own plan and the count of own games."""
    window.places.go(4)
    place = window.rooms.lesson
    assert place is not None
    panel = place.panel
    wait(lambda: panel.facts is not None and bool(panel.own_games))
    panel.list.setCurrentRow(1)
    wait(lambda: not window._runner.busy())
    panel._step(40)
    wait(lambda: not window._runner.busy())
    save(window, f"lesson-{appearance}")
    window.show_today()


def picture_workshop(window: MainWindow, appearance: str) -> None:
    """A position with a note and several lines."""
    window.edit_here()
    assert window.desk is not None
    for typed in ("Nf3", "d5", "g3", "Nf6", "Bg2", "e6", "O-O", "Be7", "d3"):
        QTest.keyClicks(window.desk.page.entry, typed)
        QTest.keyClick(window.desk.page.entry, Qt.Key.Key_Return)
    wait(lambda: not window._runner.busy())
    save(window, f"workshop-{appearance}")
    QTest.keyClick(window.desk.page.lines, Qt.Key.Key_Escape)
    window.show_today()


def picture_engine(window: MainWindow, appearance: str) -> None:
    """A known trap in the Spanish: how it stands, and why not take the pawn."""
    board = chess.Board("r1bqkbnr/2p2ppp/p2p4/1p6/3pP3/1B6/PPP2PPP/RNBQK2R w KQkq - 0 8")
    window.engine.look_at_board(board, number=8)
    shown = window.engine.look_window
    assert shown is not None
    shown.resize(900, 600)
    wait(lambda: shown.lines.count() == 3)
    wait(lambda: not window.engine.adviser.working)
    shown.why.setText("Qxd4")
    QTest.keyClick(shown.why, Qt.Key.Key_Return)
    wait(lambda: "trapped" in shown.answer.text())
    QTest.qWait(300)
    shown.grab().save(str(OUT / f"engine-{appearance}.png"))
    shown.close()


def picture_drill(window: MainWindow, appearance: str) -> None:
    """The first answered question with a note, and the first missed one."""
    controller = window.drills.controller
    assert controller is not None
    window.start_drill()
    wait(lambda: controller.stage.name == "ASKING")
    while not (controller._prompt.kind is PromptKind.DECISION and long_note(controller)):
        answer_and_go_on(window)
    play(window, controller._prompt.node.edges[0].move)
    save(window, f"drill-{appearance}")
    window.drills.view.proceed.emit()
    wait(lambda: controller.stage.name == "ASKING")
    prompt = controller._prompt
    wrong = other_move(prompt.board, prompt.node.edges[0].move, random.Random(2))
    play(window, wrong)
    save(window, f"missed-{appearance}")
    controller.leave()


def long_note(controller: object) -> bool:
    comments = controller._prompt.node.edges[0].comments
    return len(" ".join(comments)) > 120


def play(window: MainWindow, move: chess.Move) -> None:
    """Answer on the board; the answer is on the disk afterwards."""
    window.drills.view.board.move_made.emit(move)
    wait(lambda: window.drills.controller.stage.name != "KEEPING")


def answer_and_go_on(window: MainWindow) -> None:
    controller = window.drills.controller
    play(window, controller._prompt.node.edges[0].move)
    window.drills.view.proceed.emit()
    wait(lambda: controller.stage.name == "ASKING")


def main() -> int:
    with tempfile.TemporaryDirectory(prefix="stemline-pictures-") as home:
        locations = find_locations({"STEMLINE_HOME": home})
        clock = Calendar(datetime.now(UTC) - timedelta(days=DAYS))
        simulate(locations, clock)
        clock.now = datetime.now(UTC)
        build_base(locations.data / "demo.base", [repertoire_path("demo-games.pgn")])
        app = QApplication(["stemline"])
        app.setStyle("Fusion")
        take_pictures(app, locations, clock)
    return 0


if __name__ == "__main__":
    sys.exit(main())
