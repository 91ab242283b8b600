"""Departures, re-entries and novelties, held to brute force without keys and without a graph."""

from __future__ import annotations

import random
from collections import Counter
from datetime import date
from pathlib import Path

import chess
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests import games_reference as reference
from trainer.errors import RepertoireFileError, StemlineError, UsageError
from trainer.games.departures import Step, fen_at, walk
from trainer.games.players import AmbiguousNameError, UnknownPlayerError, find_player
from trainer.games.reading import PlayedGame, read_games
from trainer.games.report import games_report, games_text
from trainer.games.sentences import walk_sentences
from trainer.games.statistics import (
    MonthDepth,
    depth_by_month,
    joined_months,
    lately,
    leaving_places,
    never_met,
)
from trainer.games.survey import survey, survey_of
from trainer.games.verdicts import Verdict, verdicts
from trainer.games.when import GameWhen
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.repertoire.workshop.games import ImportCancelledError

FOLDER = Path(__file__).resolve().parents[2] / "repertoires"
DEMO, DEMO_GAMES = FOLDER / "kings-indian-attack.pgn", FOLDER / "demo-games.pgn"
OWNER = "Linden, Mara"

REPERTOIRE = """[Event "Main"]
[RepertoireSide "White"]

1. Nf3 d5 (1... Nf6 2. g3 d5 3. Bg2) 2. g3 (2. d3) 2... Nf6 3. Bg2 e6 4. O-O *

[Event "The other door"]
[RepertoireSide "White"]
[SetUp "1"]
[FEN "rnbqkbnr/pppp1ppp/4p3/8/4P3/8/PPPP1PPP/RNBQKBNR w KQkq - 0 2"]

2. d3 d5 3. Nd2 *
"""


def repertoire() -> Repertoire:
    return read_repertoire_text(REPERTOIRE).repertoire


def game_text(moves: str, **tags: str) -> str:
    head = {"White": "Linden, Mara", "Black": "Other, One", "Result": "1-0", **tags}
    lines = "".join(f'[{name} "{value}"]\n' for name, value in head.items())
    return f"{lines}\n{moves} {head['Result']}\n\n"


def read(tmp_path: Path, text: str) -> list[PlayedGame]:
    path = tmp_path / "games.pgn"
    path.write_text(text, encoding="utf-8")
    return list(read_games([path]))


def never(_key: int, _move: str, _day: date | None) -> bool:
    return False


def always(_key: int, _move: str, _day: date | None) -> bool:
    return True


# -- against brute force ---------------------------------------------------------------------


@given(st.integers(0, 1 << 32))
def test_random_games_against_brute_force(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    rng = random.Random(seed)
    text = reference.random_pgn(rng, 4, 14, RepertoireSide="White")
    games = reference.random_pgn(rng, 5, 22)
    path = tmp_path_factory.mktemp("games") / "games.pgn"
    path.write_text(games, encoding="utf-8")
    prepared = reference.Prepared.read(text)
    ours = read_repertoire_text(text).repertoire
    played = list(read_games([path]))
    expected = reference.games_of(games)
    assert len(played) == len(expected)
    for game, other in zip(played, expected, strict=True):
        for side in chess.COLORS:
            found, brute = walk(ours, game, side), reference.hold(prepared, other, side)
            assert found.plies_known == brute.plies_known
            assert found.deepest == brute.deepest
            assert [(d.ply, d.by, d.move) for d in found.departures] == [
                departure[:3] for departure in brute.departures
            ]
            for mine, (_, _, _, moves) in zip(found.departures, brute.departures, strict=True):
                assert sorted(mine.prepared) == sorted(moves)
                if moves:
                    assert mine.prepared[0] == ours.nodes[mine.key].edges[0].san
            entries = [(entry.ply, fen_at(ours, entry.key)) for entry in found.reentries]
            assert entries == brute.reentries


def test_every_planted_departure_and_reentry_of_the_demo_is_found() -> None:
    prepared = reference.Prepared.read(DEMO.read_text(encoding="utf-8"))
    expected = reference.games_of(DEMO_GAMES.read_text(encoding="utf-8"))
    ours = read_repertoire(DEMO).repertoire
    found = survey(ours, [DEMO_GAMES], OWNER)
    owned = [
        (number, game)
        for number, game in enumerate(expected, start=1)
        if OWNER in (game.headers["White"], game.headers["Black"])
    ]
    report = games_report(ours, found)["games"]
    assert isinstance(report, list)
    assert [entry["game"] for entry in report] == [number for number, _ in owned]
    come_back = 0
    for entry, one, (_, game) in zip(report, found.walks, owned, strict=True):
        side = chess.WHITE if game.headers["White"] == OWNER else chess.BLACK
        brute = reference.hold(prepared, game, side)
        assert entry["player_side"] == ("white" if side else "black")
        assert entry["white"] == game.headers["White"]
        assert entry["result"] == game.headers["Result"]
        assert entry["plies_known"] == brute.plies_known
        ply, by, move, moves = brute.departures[0]
        first = entry["departure"]
        assert (first["ply"], first["by"], first["move"]) == (ply, by, move)
        assert sorted(first["prepared"]) == sorted(moves)
        assert [(back["ply"], back["fen"]) for back in entry["reentries"]] == brute.reentries
        assert len(one.departures) == len(brute.departures)
        if side == chess.WHITE:
            come_back += bool(brute.reentries)
    assert come_back == 32
    everybody = survey(ours, [DEMO_GAMES])
    assert len(everybody.walks) == len(expected) == 244
    assert sum(bool(one.reentries) for one in everybody.walks) == 48


def test_games_are_read_as_python_chess_reads_them(tmp_path: Path) -> None:
    for game, other in zip(
        read_games([DEMO_GAMES]),
        reference.games_of(DEMO_GAMES.read_text(encoding="utf-8")),
        strict=True,
    ):
        board = other.board()
        sans = [board.san_and_push(move) for move in other.mainline_moves()]
        assert game.moves() == sans
        assert (game.white, game.black) == (other.headers["White"], other.headers["Black"])
        assert str(game.white_rating) == other.headers["WhiteElo"]
        assert game.when.date == date(*map(int, other.headers["Date"].split(".")))
        *_, (last, _) = game.boards()
        assert last.board().epd() == reference.epd(board)


# -- what counts as what ---------------------------------------------------------------------


def told(tmp_path: Path, moves: str, learnt: bool = False, **tags: str) -> list[str]:
    ours = repertoire()
    (game,) = read(tmp_path, game_text(moves, **tags))
    one = walk(ours, game, chess.WHITE)
    return walk_sentences(one, verdicts(ours, one, always if learnt else never))


def test_an_accepted_alternative_is_no_departure(tmp_path: Path) -> None:
    (game,) = read(tmp_path, game_text("1. Nf3 d5 2. d3"))
    assert walk(repertoire(), game, chess.WHITE).departures == ()
    assert told(tmp_path, "1. Nf3 d5 2. d3") == [
        "Every position of this game is in the repertoire."
    ]


def test_another_order_is_no_departure(tmp_path: Path) -> None:
    # 1…Nf6 2 g3 d5 is listed; 1…d5 2 g3 Nf6 too; 3 Bg2 e6 is then known from either.
    (game,) = read(tmp_path, game_text("1. Nf3 Nf6 2. g3 d5 3. Bg2 e6 4. O-O"))
    found = walk(repertoire(), game, chess.WHITE)
    assert found.departures == ()
    assert set(found.steps) == {Step.KNOWN}


def test_what_is_said(tmp_path: Path) -> None:
    assert told(tmp_path, "1. Nf3 d5 2. g3 Nf6 3. Bg2 e6 4. d3 Be7") == [
        "Known up to 3…e6.",
        "You left with 4 d3; prepared was 4 O-O, which you had not learnt yet.",
    ]
    assert told(tmp_path, "1. Nf3 d5 2. c4", learnt=True)[1] == (
        "You left with 2 c4; prepared were 2 g3 and d3, and you had learnt it."
    )
    assert told(tmp_path, "1. Nf3 c5 2. g3")[1] == (
        "Black left with 1…c5; known were 1…d5 and Nf6."
    )
    assert told(tmp_path, "1. Nf3 d5 2. g3 Nf6 3. Bg2 e6 4. O-O Be7")[1] == (
        "The prepared line ends with 4 O-O; then came 4…Be7."
    )
    # Left and come back: 2…e6 is unknown, after 3…Nf6 the position is known again.
    assert told(tmp_path, "1. Nf3 d5 2. g3 e6 3. Bg2 Nf6 4. O-O") == [
        "Known up to 2 g3.",
        "Black left with 2…e6; known was 2…Nf6.",
        "Known again after 3…Nf6.",
    ]
    assert told(tmp_path, "1. e4 e6 2. d3 d5 3. Nd2 c5", learnt=True) == [
        "The first move leaves the repertoire.",
        "You left with 1 e4; prepared was 1 Nf3, but this was only another way in.",
        "Known again after 1…e6.",
        "The prepared line ends with 3 Nd2; then came 3…c5.",
    ]
    after_e4 = "rnbqkbnr/pppppppp/8/8/4P3/8/PPPP1PPP/RNBQKBNR b KQkq - 0 1"
    assert told(tmp_path, "1... e6 2. d3 d5", FEN=after_e4, SetUp="1") == [
        "This game begins outside the repertoire and comes in with 1…e6."
    ]
    assert told(tmp_path, "1... c5 2. d3 d5", FEN=after_e4, SetUp="1") == [
        "No position of this game is in the repertoire."
    ]


def test_verdicts_ask_for_the_day_of_the_game(tmp_path: Path) -> None:
    ours = repertoire()
    asked: list[tuple[str, date | None]] = []

    def learnt(key: int, move: str, day: date | None) -> bool:
        asked.append((move, day))
        return True

    games = read(
        tmp_path,
        game_text("1. d4 d5", Date="2025.03.02")
        + game_text("1. d4 d5", Date="2025.??.??")
        + game_text("1. Nf3 g5"),
    )
    walks = [walk(ours, game, chess.WHITE) for game in games]
    assert [verdicts(ours, one, learnt) for one in walks] == [
        (Verdict.FORGOTTEN,),
        (Verdict.FORGOTTEN,),
        (None,),
    ]
    assert asked == [("g1f3", date(2025, 3, 2)), ("g1f3", None)]
    # With the other colour there was nothing of this repertoire to forget.
    as_black = walk(ours, games[2], chess.BLACK)
    assert verdicts(ours, as_black, learnt) == (None,)


def test_broken_games_come_as_far_as_they_go_and_are_named(tmp_path: Path) -> None:
    path = tmp_path / "games.pgn"
    path.write_text(
        game_text("1. Nf3 d5 2. Ke5 Nf6")
        + game_text("1. Nf3", FEN="nonsense")
        + game_text("1. Nf3", Variant="Atomic")
        + game_text("1. Nf3 d5")
        + game_text("1. Nf3 { never closed"),
        encoding="utf-8",
    )
    found = survey(repertoire(), [path])
    assert [(fault.game, fault.line) for fault in found.faults] == [
        (1, 5),
        (2, 10),
        (3, 17),
        (5, 31),
    ]
    assert [one.game.plies for one in found.walks] == [2, 0, 0, 2, 1]
    assert "“Ke5” is not a legal move after d5" in found.faults[0].reason
    with pytest.raises(RepertoireFileError):
        survey(repertoire(), [tmp_path / "none.pgn"])
    with pytest.raises(ImportCancelledError):
        survey(repertoire(), [path], cancelled=lambda: True)


# -- players ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "wanted", ["Linden, Mara", "mara linden", "LINDEN", "Linden, M.", "M. Linden", "Líndén, Mara"]
)
def test_a_player_is_found_in_several_spellings(wanted: str) -> None:
    names = Counter({"Linden, Mara": 5, "Mara Linden": 2, "Linden, M.": 1, "Lindener, Mara": 3})
    found = find_player(wanted, names)
    assert found.spellings == {"Linden, Mara", "Mara Linden", "Linden, M."}


def test_two_people_are_never_taken_for_one() -> None:
    names = Counter({"Linden, Mara": 5, "Linden, Max": 2, "Linden, M.": 1, "Oak, Mara": 1})
    for wanted in ("Linden", "Linden, M.", "M Linden"):
        with pytest.raises(AmbiguousNameError) as raised:
            find_player(wanted, names)
        assert raised.value.choices == ["Linden, Mara", "Linden, Max"]
    found = find_player("Mara Linden", names)
    assert found.spellings == {"Linden, Mara"}
    assert found.unclear == ("Linden, M.",)
    with pytest.raises(UnknownPlayerError, match="Linden, Mara"):
        find_player("Birch", names)
    with pytest.raises(UsageError):
        find_player("Linden, Mo", names)


# -- when ------------------------------------------------------------------------------------


def when(day: str, time: str = "", number: str = "") -> GameWhen:
    return GameWhen.of({"Date": day, "Time": time, "Round": number})


def test_only_what_is_certain_is_earlier() -> None:
    # PGN Standard, 8.1.1.3: question marks stand for what is not known of a date.
    assert when("2024.02.29").date == date(2024, 2, 29)
    assert when("2023.02.29").date is None
    assert when("2024.01.31").earlier_than(when("2024.02.01"))
    assert not when("2024.02.01").earlier_than(when("2024.02.01"))
    assert when("2024.02.01", "10:00:00").earlier_than(when("2024.02.01", "10:00:01"))
    assert not when("2024.02.01", "10:00:00").earlier_than(when("2024.02.01"))
    assert not when("2024.02.??").earlier_than(when("2024.02.28"))
    assert when("2024.??.??").earlier_than(when("2025.01.01"))
    assert not when("2024.??.??").earlier_than(when("2024.12.31"))
    assert not when("????.??.??").earlier_than(when("2024.12.31"))
    assert not when("2024.12.31").earlier_than(when("????.??.??"))
    assert not when("2024.02.01", "", "1").earlier_than(when("2024.02.01", "", "2"))


@given(st.data())
def test_earlier_is_an_order(data: st.DataObject) -> None:
    days = st.builds(
        lambda y, m, d, t: when(f"{y}.{m}.{d}", t),
        st.sampled_from(["????", "2023", "2024"]),
        st.sampled_from(["??", "01", "02"]),
        st.sampled_from(["??", "01", "28"]),
        st.sampled_from(["", "10:00:00", "11:30"]),
    )
    a, b, c = data.draw(days), data.draw(days), data.draw(days)
    assert not a.earlier_than(a)
    assert not (a.earlier_than(b) and b.earlier_than(a))
    if a.earlier_than(b) and b.earlier_than(c):
        assert a.earlier_than(c)


# -- many games ------------------------------------------------------------------------------


def test_statistics_of_many_games(tmp_path: Path) -> None:
    ours = repertoire()
    path = tmp_path / "games.pgn"
    path.write_text(
        game_text("1. Nf3 c5 2. g3", Date="2025.01.03", BlackElo="2000")
        + game_text("1. Nf3 c5", Date="2025.01.20", Result="0-1", BlackElo="1800")
        + game_text("1. Nf3 g6", Date="2025.02.??", Result="1/2-1/2")
        + game_text("1. Nf3 d5 2. c4", Date="????.??.??"),
        encoding="utf-8",
    )
    found = survey(ours, [path], "Linden")
    places = leaving_places(ours, found.walks)
    assert [(place.games, place.who, place.moves) for place in places] == [
        (3, "the opponent", (("c5", 2), ("g6", 1))),
        (1, "you", (("c4", 1),)),
    ]
    assert places[0].score == 0.5
    assert places[0].rating == 1900
    assert [(m.year, m.month, m.games, m.plies) for m in depth_by_month(found.walks)] == [
        (2025, 1, 2, 1.0),
        (2025, 2, 1, 1.0),
    ]
    months = [MonthDepth(2020 + n // 12, n % 12 + 1, 1 + n % 2, float(n)) for n in range(30)]
    assert joined_months(months, 30) == months
    quarters = joined_months(months, 29)
    assert [(one.year, one.month, one.games, one.span) for one in quarters[:3]] == [
        (2020, 1, 4, 3),
        (2020, 4, 5, 3),
        (2020, 7, 4, 3),
    ]
    assert quarters[0].plies == (0 + 2 * 1 + 2) / 4
    assert sum(one.games for one in joined_months(months, 2)) == 45
    unmet, missed = never_met(ours, found.walks)
    assert [(one.edge.san, one.passed, one.ply) for one in missed] == [("Nf6", 4, 2)]
    assert lately(depth_by_month(found.walks)) == (1.0, 1.0)
    assert lately([]) is None
    assert lately(months) == pytest.approx((sum(m.games * m.plies for m in months) / 45, 71 / 3))
    assert unmet == len(ours.nodes) - 3
    text = games_text(ours, found, never)
    assert "after 1 Nf3: 3 games by the opponent: c5 (2), g6 (1), 50% of the points" in text


PIECES = st.sampled_from(
    [
        '[Event "x"]\n',
        '[FEN "8/8/8/8/8/8/8/8 w - - 0 1"]\n',
        '[FEN "4k3/P7/8/8/8/8/8/4K3 w - - 0 9"]\n',
        '[Variant "Atomic"]\n',
        '[Date "2024.02.30"]\n',
        '[White "A\\"b"]\n',
        "1. e4 e5 ",
        "2. Nf3 ",
        "a8=Q+ ",
        "{ text ",
        "} ",
        "( ",
        ") ",
        "-- ",
        "1-0\n\n",
        "* ",
        "$300 ",
        "; to the end\n",
        "%\n",
        "O-O ",
        "\x00",
        "é ",
    ]
)


@given(st.lists(PIECES, max_size=40) | st.text(max_size=80).map(lambda text: [text]))
def test_any_text_gives_games_or_one_sentence(
    tmp_path_factory: pytest.TempPathFactory, parts: list[str]
) -> None:
    path = tmp_path_factory.mktemp("any") / "any.pgn"
    path.write_bytes("".join(parts).encode("utf-8", "surrogatepass"))
    ours = repertoire()
    sentence = ""
    try:
        found = survey(ours, [path])
    except StemlineError as error:
        sentence, found = str(error), survey_of(ours, [])
    assert sentence.endswith(".") or not sentence
    for one in found.walks:
        assert len(one.steps) == one.game.plies == len(one.game.moves())
        assert sum(1 for _ in one.game.boards()) == one.game.plies + 1
        assert walk_sentences(one, verdicts(ours, one, always))
    for fault in found.faults:
        assert fault.line >= 1
        assert fault.reason
    games_report(ours, found)
