"""How likely replies are, where `stemline check` and `stemline orders` go by reach."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.memory_graphs import node_after
from tests.process import RunStemline
from trainer.repertoire.reader import read_repertoire
from trainer.storage.locations import find_locations
from trainer.storage.reply_counts import MoveCounts, ReplyCounts, save_reply_counts
from trainer.storage.settings import Settings, save_settings

#: Two replies, which cross one move later, and one reply to which nothing is prepared.
TEXT = """[Event "System"]
[RepertoireSide "White"]

1. Nf3 d5 (1... Nf6 2. g3 d5 3. Bg2) 2. g3 Nf6 (2... c6) 3. Bg2 *
"""
#: Games of one player: 1 … Nf6 is met in three of four, 1 … d5 in one.
GAMES = "".join(
    f'[White "Linden, Mara"]\n[Black "Ash, Bo"]\n[Result "1-0"]\n\n{moves} 1-0\n\n'
    for moves in (
        "1. Nf3 Nf6 2. g3 c5",
        "1. Nf3 Nf6 2. g3 b6",
        "1. Nf3 Nf6 2. a3",
        "1. Nf3 d5 2. g3 c6",
    )
)
OTHERS = '[White "Ash, Bo"]\n[Black "Fen, Ida"]\n[Result "0-1"]\n\n1. Nf3 d5 2. g3 c6 0-1\n'


@pytest.fixture
def system(tmp_path: Path) -> Path:
    path = tmp_path / "system.pgn"
    path.write_text(TEXT, encoding="utf-8")
    return path


@pytest.fixture
def games(tmp_path: Path) -> Path:
    path = tmp_path / "games.pgn"
    path.write_text(GAMES + OTHERS, encoding="utf-8")
    return path


def holes(text: str) -> dict[str, str]:
    """The reply of each hole that `check` names, and in how many games it comes up."""
    lines = [line for line in text.splitlines() if "othing is prepared against" in line]
    return {
        line.rsplit(" ", 1)[1].rstrip("."): line.split(", in ")[1].split(" of ")[0]
        for line in lines
    }


def keep(home_file: Path, own: MoveCounts, base: MoveCounts) -> None:
    """Keep counts as the window does, and let the base count for four own games."""
    locations = find_locations()
    save_reply_counts(locations.replies_file(home_file), ReplyCounts(own, base))
    save_settings(locations.settings_file, Settings(base_counts_as=4.0))


def test_what_the_window_counted_is_used_until_something_else_is_named(
    stemline: RunStemline, system: Path, games: Path
) -> None:
    plain = stemline("check", system)
    assert holes(plain.stdout) == {"c6": "25.0 %"}
    assert "all replies count as equally likely, since none was counted" in plain.stdout
    first = node_after(read_repertoire(system).repertoire, "Nf3").key
    keep(system, {first: {"g8f6": 3, "d7d5": 1}}, {})
    kept = stemline("check", system)
    assert "in your own games, as the window counted them." in kept.stdout
    # 1 … d5 weighs 1 + 4 / 2 = 3 of 8, and each of its replies half of that.
    assert holes(kept.stdout)["c6"] == "18.8 %"
    equal = stemline("check", system, "--equal")
    assert holes(equal.stdout) == holes(plain.stdout)
    assert "all replies count as equally likely." in equal.stdout
    named = stemline("check", system, "--games", games, "--player", "Linden, Mara")
    assert "in your own games." in named.stdout
    # 1 … d5 as above, and behind it 2 … c6 weighs 1 + 4 / 2 = 3 of 5.
    assert holes(named.stdout)["c6"] == "22.5 %"
    for done in (plain, kept, equal, named):
        assert (done.returncode, done.stderr) == (0, "")


def test_a_base_weighs_replies(stemline: RunStemline, system: Path, games: Path) -> None:
    base = system.with_name("all.base")
    assert stemline("base", "build", base, games).returncode == 0
    keep(system, {}, {})
    done = stemline("check", system, "--base", base)
    assert "how often they were played in the reference base." in done.stdout
    # Five games after 1 Nf3: 1 … d5 in two, so 3 of 7; behind it 2 … c6 in both, so 3 of 4.
    assert holes(done.stdout)["c6"] == "32.1 %"
    both = stemline("check", system, "--base", base, "--games", games, "--player", "Linden, Mara")
    # 1 + 4 · 3/7 of 8 own and 4 of the base's; behind it 1 + 4 · 3/4 of 1 and 4.
    share = (1 + 4 * 3 / 7) / 8 * (1 + 4 * 3 / 4) / 5
    assert holes(both.stdout)["c6"] == f"{100 * share:.1f} %"
    assert "in your own games and the reference base." in both.stdout


def test_what_is_played_and_not_prepared_for_is_named(
    stemline: RunStemline, system: Path, games: Path
) -> None:
    games.write_text(GAMES.replace("g3 c5", "g3 b6"), encoding="utf-8")
    keep(system, {}, {})
    done = stemline("check", system, "--games", games, "--player", "Linden, Mara")
    words = done.stdout.split("Unprepared replies, in one game in 200 or more:\n")[1]
    # 1 … Nf6 as above, 3 + 4 / 2 of 8, and behind it two of two games and four by no games.
    share = (3 + 2) / 8 * 2 / (2 + 4)
    assert words.split("\n\n")[0] == (
        f"  1 Nf3 Nf6 2 g3 b6, in {100 * share:.1f} % of games: Nothing is prepared against b6, "
        "played in 2 of 2 games of yours."
    )
    assert "Unprepared" not in stemline("check", system, "--equal").stdout
    machines = stemline("check", system, "--json", "--games", games, "--player", "Linden, Mara")
    assert json.loads(machines.stdout)["unprepared"] == [
        {
            "fen": "rnbqkb1r/pppppppp/5n2/8/8/5NP1/PPPPPP1P/RNBQKB1R b KQkq - 0 1",
            "move": "b6",
            "reach": round(share, 6),
            "own": 2,
            "own_games": 2,
            "base": 0,
            "base_games": 0,
        }
    ]
    assert machines.stderr.startswith("stemline: Reach: replies by how often they were played")
    assert "unprepared" not in json.loads(stemline("check", system, "--json").stdout)


def test_orders_go_by_measured_reach_too(stemline: RunStemline, system: Path) -> None:
    def crossings(*options: str) -> tuple[list[str], str]:
        done = stemline("orders", system, "--json", *options)
        assert done.returncode == 0
        return [one["fen"] for one in json.loads(done.stdout)["crossings"]], done.stderr

    repertoire = read_repertoire(system).repertoire
    first = node_after(repertoire, "Nf3").key
    before, said = crossings()
    assert said == ""
    assert len(before) == 1
    keep(system, {first: {"g8f6": 1, "d7d5": 7}}, {})
    words = stemline("orders", system).stdout
    assert words.splitlines()[-1].endswith("as the window counted them.")
    # 1 … d5 weighs 7 + 4 / 2 = 9 of 12, and half of that does not cross.
    assert "in 62.5 % of games" in words
    assert "in 75.0 % of games" in stemline("orders", system, "--equal").stdout
    measured, said = crossings()
    assert measured == before
    assert said == (
        "stemline: Reach: replies by how often they were played in your own games, as the "
        "window counted them.\n"
    )
    assert crossings("--equal") == (before, "")


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--equal", "--games", "g.pgn"], "leave --equal out"),
        (["--player", "Linden, Mara"], "--player says who you are in the games of --games"),
        (["--games", "g.pgn", "--player", "Nobody"], "No game has a player “Nobody”"),
    ],
)
@pytest.mark.parametrize("command", ["check", "orders"])
def test_wrong_usage_is_one_sentence(
    stemline: RunStemline, system: Path, command: str, options: list[str], said: str
) -> None:
    system.with_name("g.pgn").write_text(GAMES, encoding="utf-8")
    done = stemline(command, system, *options)
    assert done.returncode == 2
    assert said in done.stderr
    assert done.stderr.count("\n") == 1


def test_broken_games_are_named(stemline: RunStemline, system: Path) -> None:
    system.with_name("g.pgn").write_text(GAMES + '[White "X"]\n\n1. Nf3 Ke3 *\n', "utf-8")
    done = stemline("check", system, "--games", "g.pgn")
    assert done.returncode == 1
    assert "g.pgn: game 5, line" in done.stderr
    assert done.stderr.count("\n") == 1
    assert "in your own games." in done.stdout
