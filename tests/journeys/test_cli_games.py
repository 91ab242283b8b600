"""`stemline games` as its own process."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from pathlib import Path

import chess
import pytest

from tests import games_reference as reference
from tests.memory_graphs import node_after
from tests.process import RunStemline
from trainer.repertoire.reader import read_repertoire
from trainer.storage.answers import Answer, AnswerKind, Grade
from trainer.storage.locations import find_locations
from trainer.storage.progress import ProgressStore

FOLDER = Path(__file__).resolve().parents[2] / "repertoires"
DEMO, GAMES = FOLDER / "kings-indian-attack.pgn", FOLDER / "demo-games.pgn"

FIELDS = [
    "game",
    "white",
    "black",
    "result",
    "player_side",
    "plies_known",
    "departure",
    "reentries",
    "novelty",
]
BOTH = """[White "Linden, Mara"]
[Black "Ash, Bo"]
[Result "1-0"]

1. Nf3 d5 2. g3 Nf6 1-0

[White "Ash, Bo"]
[Black "Linden, Max"]
[Result "0-1"]

1. a3 e5 0-1
"""


@pytest.fixture
def both(tmp_path: Path) -> Path:
    path = tmp_path / "both.pgn"
    path.write_text(BOTH, encoding="utf-8")
    return path


def test_json_of_the_demo_for_one_player(stemline: RunStemline) -> None:
    done = stemline("games", DEMO, GAMES, "--player", "mara linden", "--json")
    assert (done.returncode, done.stderr) == (0, "")
    report = json.loads(done.stdout)
    assert list(report) == ["games"]
    prepared = reference.Prepared.read(DEMO.read_text(encoding="utf-8"))
    games = reference.games_of(GAMES.read_text(encoding="utf-8"))
    assert len(report["games"]) == 152
    for entry in report["games"]:
        assert list(entry) == FIELDS
        game = games[entry["game"] - 1]
        side = game.headers["White"] == "Linden, Mara"
        brute = reference.hold(prepared, game, side)
        assert entry["plies_known"] == brute.plies_known
        assert [(back["ply"], back["fen"]) for back in entry["reentries"]] == brute.reentries
        ply, by, move, moves = brute.departures[0]
        departure = entry["departure"]
        assert list(departure) == ["ply", "by", "move", "prepared"]
        assert (departure["ply"], departure["by"], departure["move"]) == (ply, by, move)
        assert sorted(departure["prepared"]) == sorted(moves)
        assert entry["novelty"] is None


def test_novelties_against_a_base(stemline: RunStemline, tmp_path: Path) -> None:
    base = tmp_path / "base.sqlite"
    assert stemline("base", "build", base, GAMES).returncode == 0
    done = stemline("games", DEMO, GAMES, "--player", "Linden", "--base", base, "--json")
    assert (done.returncode, done.stderr) == (0, "")
    entries = json.loads(done.stdout)["games"]
    dates = [game.headers["Date"] for game in reference.games_of(GAMES.read_text("utf-8"))]
    # The first day of all: nothing is earlier, so the first move is new.
    assert dates[entries[0]["game"] - 1] == min(dates)
    assert entries[0]["novelty"] == {"ply": 1, "move": "e4", "earlier_games": 0}
    later = [entry for entry in entries if dates[entry["game"] - 1] > min(dates)]
    assert all(entry["novelty"] for entry in later)
    assert {list(entry["novelty"])[2] for entry in later} == {"earlier_games"}
    # A departure is one thing and a novelty another.
    assert any(entry["novelty"]["ply"] != entry["departure"]["ply"] for entry in later)
    done = stemline("games", DEMO, GAMES, "--player", "Linden", "--base", base)
    assert "Against the base:" in done.stdout
    done = stemline("games", DEMO, GAMES, "--base", tmp_path / "none.sqlite")
    assert done.returncode == 1
    assert "Traceback" not in done.stderr


def test_all_games_without_a_name(stemline: RunStemline) -> None:
    done = stemline("games", DEMO, GAMES, GAMES, "--json")
    assert done.returncode == 0
    entries = json.loads(done.stdout)["games"]
    assert [entry["game"] for entry in entries] == list(range(1, 489))
    assert {entry["player_side"] for entry in entries} == {"white"}


def test_words(stemline: RunStemline, both: Path) -> None:
    done = stemline("games", DEMO, both, "--player", "Linden, Mara")
    assert (done.returncode, done.stderr) == (0, "")
    assert done.stdout.splitlines()[:2] == [
        "1. Linden, Mara – Ash, Bo, 1-0",
        "   Every position of this game is in the repertoire.",
    ]
    assert "1 game, and 1 of other players left aside." in done.stdout


def test_what_many_games_tell_in_words(stemline: RunStemline) -> None:
    """Against brute force over FEN strings: results, ratings, depth, and what never occurs."""
    done = stemline("games", DEMO, GAMES, "--player", "Linden, Mara")
    prepared = reference.Prepared.read(DEMO.read_text(encoding="utf-8"))
    games = [
        game
        for game in reference.games_of(GAMES.read_text(encoding="utf-8"))
        if game.headers["White"] == "Linden, Mara"
    ]
    seen: set[str] = set()
    left_at_once = []
    known = 0
    for game in games:
        board = game.board()
        seen.add(reference.epd(board))
        for move in game.mainline_moves():
            board.push(move)
            seen.add(reference.epd(board))
        found = reference.hold(prepared, game, chess.WHITE)
        known += found.plies_known
        if found.departures and found.departures[0][0] == 1:
            left_at_once.append(game)
    never = len(set(prepared.positions) - seen)
    assert f"{never} of the {len(prepared.positions)} prepared positions never occurred." in (
        done.stdout
    )
    assert f"Known from the beginning: {known / len(games) / 2:.1f} moves on average" in (
        done.stdout
    )
    points = {"1-0": 1.0, "1/2-1/2": 0.5, "0-1": 0.0}
    score = sum(points[game.headers["Result"]] for game in left_at_once) / len(left_at_once)
    ratings = [
        int(game.headers["BlackElo"]) for game in left_at_once if "BlackElo" in game.headers
    ]
    line = next(one for one in done.stdout.splitlines() if one.startswith("  after the start:"))
    assert line.startswith(f"  after the start: {len(left_at_once)} games by you: ")
    assert f"{score:.0%} of the points" in line
    assert f"opponents rated {sum(ratings) / len(ratings):.0f}" in line


def test_a_name_that_could_be_two_people_is_wrong_usage(stemline: RunStemline, both: Path) -> None:
    done = stemline("games", DEMO, both, "--player", "Linden")
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr == (
        "stemline: “Linden” could be “Linden, Mara” and “Linden, Max”; give the whole name of "
        "the player as one of them.\n"
    )
    done = stemline("games", DEMO, both, "--player", "Birch")
    assert done.returncode == 2
    assert "No game has a player “Birch”" in done.stderr
    assert "Traceback" not in done.stderr


def test_what_is_broken_is_named_and_the_rest_is_told(
    stemline: RunStemline, tmp_path: Path
) -> None:
    path = tmp_path / "broken.pgn"
    path.write_text(BOTH + '\n[White "Oak, Cy"]\n\n1. Nf3 Ke4 *\n', encoding="utf-8")
    done = stemline("games", DEMO, path, "--json")
    assert done.returncode == 1
    assert done.stderr.splitlines() == [
        f"stemline: {path}: game 3, line 15: “Ke4” is not a legal move after Nf3; the rest of "
        "the game is left out"
    ]
    assert len(json.loads(done.stdout)["games"]) == 3
    done = stemline("games", DEMO, tmp_path / "none.pgn")
    assert done.returncode == 1
    assert "There is no file" in done.stderr


def test_what_was_learnt_before_the_game_was_forgotten(
    stemline: RunStemline, tmp_path: Path
) -> None:
    mine = tmp_path / "mine.pgn"
    mine.write_text('[RepertoireSide "White"]\n\n1. Nf3 d5 2. g3 *\n', encoding="utf-8")
    path = tmp_path / "game.pgn"
    path.write_text(
        '[Date "2026.03.10"]\n[White "Linden, Mara"]\n[Black "Ash, Bo"]\n\n1. Nf3 d5 2. d4 *\n',
        encoding="utf-8",
    )
    left = "   You left with 2 d4; prepared was 2 g3, "
    done = stemline("games", mine, path, "--player", "Linden")
    assert f"{left}which you had not learnt yet." in done.stdout.splitlines()
    locations = find_locations()
    locations.progress_file.parent.mkdir(parents=True)
    at = datetime(2026, 3, 9, 12, tzinfo=UTC)
    with ProgressStore.open(locations.progress_file, clock=lambda: at) as store:
        repertoire = read_repertoire(mine).repertoire
        node = node_after(repertoire, "Nf3 d5")
        keys = [one.key for one in repertoire.decisions()]
        answer = Answer(
            repertoire_id=store.identify(mine, repertoire.side, keys),
            key=node.key,
            move="g2g3",
            kind=AnswerKind.DRILL,
            at=at,
            grade=Grade.CLEAN,
            played="g2g3",
        )
        store.record(answer)
    done = stemline("games", mine, path, "--player", "Linden")
    assert f"{left}and you had learnt it." in done.stdout.splitlines()
    lines = done.stdout.splitlines()
    assert lines[lines.index("Forgotten at the board, most often first:") + 1] == (
        "  g3 after 1 Nf3 d5: once"
    )
    # Looking changes nothing: only the window counts what was forgotten.
    with ProgressStore.open(locations.progress_file, read_only=True, clock=lambda: at) as store:
        assert [one.kind for one in store.answers(answer.repertoire_id)] == [AnswerKind.DRILL]
