"""Ten thousand games against the demo repertoire: reading, holding against it, and the window.

The baseline of reading is the plain loop of python-chess: `chess.pgn.read_game`, push, and the key
of every position, over a part of the same games.
"""

from __future__ import annotations

import io
import os
import tempfile
import time
from pathlib import Path

import chess.pgn

from tests.benchmarks.bench_window import StallMeter, _application, _stall, wait_until
from tests.benchmarks.figures import Figure
from trainer.games.reading import read_games
from trainer.games.survey import survey_of
from trainer.position import position_key
from trainer.repertoire.reader import read_repertoire

FOLDER = Path(__file__).resolve().parents[2] / "repertoires"
DEMO, GAMES = FOLDER / "kings-indian-attack.pgn", FOLDER / "demo-games.pgn"
RUNS = 1
COPIES = 41
PLAYER = "Linden, Mara"
PLAIN = 244


def write_games(path: Path) -> int:
    """The demo games again and again, each time of other years; how many there are."""
    text = GAMES.read_text(encoding="utf-8")
    with path.open("w", encoding="utf-8") as file:
        for copy in range(COPIES):
            # Other dates make other games of them.
            file.write(text.replace('[Date "202', f'[Date "{150 + copy}'))
    return COPIES * text.count("[Event ")


def measure() -> list[Figure]:
    """Reading, looking up, and how long the window is kept from its work meanwhile."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    with tempfile.TemporaryDirectory(prefix="stemline-bench-") as folder:
        path = Path(folder) / "many.pgn"
        count = write_games(path)
        return [*_library(path, count), *_window(Path(folder), path, count)]


def _library(path: Path, count: int) -> list[Figure]:
    start = time.perf_counter()
    games = list(read_games([path]))
    taken = time.perf_counter() - start
    assert len(games) == count
    repertoire = read_repertoire(DEMO).repertoire
    start = time.perf_counter()
    found = survey_of(repertoire, games, PLAYER)
    looked = time.perf_counter() - start
    plain = _plain_seconds() / PLAIN * count
    return [
        Figure(
            f"games: read {count:,} games to their ends",
            count / taken,
            "games/s",
            baseline_name="chess.pgn with keys",
            baseline_value=count / plain,
        ),
        Figure(f"games: hold {len(found.walks):,} against the demo", looked, "s"),
    ]


def _plain_seconds() -> float:
    handle = io.StringIO(GAMES.read_text(encoding="utf-8"))
    start = time.perf_counter()
    for _ in range(PLAIN):
        game = chess.pgn.read_game(handle)
        assert game is not None
        board = game.board()
        for move in game.mainline_moves():
            board.push(move)
            position_key(board)
    return time.perf_counter() - start


def _window(home: Path, path: Path, count: int) -> list[Figure]:
    from PySide6.QtCore import Qt

    from trainer.storage.locations import find_locations
    from trainer.storage.log import BugLog
    from trainer.storage.settings import Settings, save_settings
    from trainer.ui.app import build_window

    app = _application()
    locations = find_locations({"STEMLINE_HOME": str(home)})
    save_settings(
        locations.settings_file,
        Settings(games_files=(str(path),), player=PLAYER, reduced_motion=True),
    )
    window = build_window(app, locations, BugLog(locations.log_file))
    window.show()
    ready: list[bool] = []
    window.ready.connect(lambda: ready.append(True))
    window.open(DEMO)
    wait_until(app, lambda: bool(ready))
    meter = StallMeter()
    with meter.watching():
        end = time.perf_counter() + 1  # before the games are looked through by themselves
        wait_until(app, lambda: time.perf_counter() > end)
    idle = meter.worst
    with meter.watching():
        begun = time.perf_counter()
        window.places.go(3)
        wait_until(app, lambda: window.places.current() is window.rooms.games)
        place = window.rooms.games
        wait_until(app, lambda: place.gathered is not None, 400)
        taken = time.perf_counter() - begun
        wait_until(app, lambda: not window._runner.busy())
    reading = meter.worst
    with meter.watching():
        for text in ("linden", "linden w", "", "2026", ""):
            place.list.filter.setText(text)
            app.processEvents()
        for column in range(7):
            place.list.table.sortByColumn(column, Qt.SortOrder.DescendingOrder)
            app.processEvents()
    filtering = meter.worst
    with meter.watching():
        place.list.table.choose(5)
        place._open(place.list.table.current())
        for _ in range(40):
            place.page.go(place.page.ply + 1)
            app.processEvents()
        for section in (1, 2, 3, 4, 0):
            place.words.choose(section)
            app.processEvents()
    walking = meter.worst
    window.close()
    return [
        Figure(f"games: {count:,} in the window, from choosing the place", taken, "s"),
        _stall(f"window blocked at most: reading {count:,} games", reading, idle),
        _stall("window blocked at most: filtering and sorting them", filtering, idle),
        _stall("window blocked at most: a game, step by step, and figures", walking, idle),
    ]
