"""Figures of a reference base against a plain count with EPDs and lists, however it was built."""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import chess
import numpy as np
import pytest

from tests.base_games import GameMaker, game_text, plain_loop
from trainer.games.base import grouping, moments
from trainer.games.base.builder import BuildReport, build_base
from trainer.games.base.faults import BaseFileError, GamesFileError
from trainer.games.base.merger import Merger
from trainer.games.base.schema import TOTAL, TOTAL_ROW
from trainer.games.base.store import ReferenceBase
from trainer.games.novelty import EarlierGames, Novelty, find_novelty
from trainer.games.reading import read_games
from trainer.games.when import GameWhen
from trainer.position import position_epd, position_key

PLIES = 16


@dataclass
class Count:
    """What a plain count holds of one move in one position, or of all."""

    games: int = 0
    results: Counter[str] = field(default_factory=Counter)
    ratings: list[int] = field(default_factory=list)
    years: list[int] = field(default_factory=list)
    stems: list[tuple[object, int, str]] = field(default_factory=list)

    def add(self, tags: dict[str, str], number: int) -> None:
        self.games += 1
        self.results[tags.get("Result", "*")] += 1
        for name in ("WhiteElo", "BlackElo"):
            if tags.get(name, "").isdecimal():
                self.ratings.append(int(tags[name]))
        when = GameWhen.of(tags)
        if when.year:
            self.years.append(when.year)
        self.stems.append((when.sort_key, number, tags["White"]))

    def figures(self) -> tuple[object, ...]:
        results = self.results
        mean = sum(self.ratings) / len(self.ratings) if self.ratings else None
        counts = (self.games, results["1-0"], results["1/2-1/2"], results["0-1"])
        return (*counts, mean, max(self.years, default=None), min(self.stems)[2])


Plain = dict[str, tuple[Count, dict[str, Count]]]


def plain_count(
    text: str, plies: int = PLIES
) -> tuple[Plain, list[tuple[dict[str, str], list[str]]]]:
    """All positions by EPD, and of each game its tags and EPDs."""
    found: Plain = {}
    seen: set[tuple[object, ...]] = set()
    games = []
    for number, game in enumerate(plain_loop(text, 1000)):
        identity = (game.tags["White"], game.tags["Black"], game.tags["Date"], game.tags["Round"],
                    tuple(game.moves))  # fmt: skip
        if identity in seen or not game.moves or game.error:
            continue
        seen.add(identity)
        board, here, epds = chess.Board(), set(), []
        for move in [*game.moves[:plies], None]:
            epd = position_epd(board)
            epds.append(epd)
            if epd not in here:
                here.add(epd)
                whole, moves = found.setdefault(epd, (Count(), {}))
                whole.add(game.tags, number)
                if move is not None:
                    moves.setdefault(move.uci(), Count()).add(game.tags, number)
            if move is not None:
                board.push(move)
        games.append((game.tags, epds))
    return found, games


def check(base: ReferenceBase, plain: Plain) -> None:
    assert base.summary().positions == len(plain)
    rows = base._connection.execute("SELECT id, data FROM buckets").fetchall()
    in_buckets = set(grouping.visits_of_buckets(rows, base._bits)["key"].tolist())
    in_totals = {key for (key,) in base._connection.execute("SELECT key FROM totals")}
    assert not in_buckets & in_totals
    assert len(in_buckets | in_totals) == len(plain)
    for epd, (whole, moves) in plain.items():
        board = chess.Board(f"{epd} 0 1")
        found = base.position(board)
        assert found.first is not None
        assert (
            found.games, found.white, found.draws, found.black, found.mean_rating,
            found.last_year, base.game(found.first).white,
        ) == whole.figures()  # fmt: skip
        assert {
            one.move.uci() if one.move else "": (
                one.games, one.white, one.draws, one.black, one.mean_rating, one.last_year,
                base.game(one.first).white,
            )
            for one in found.moves
        } == {uci: count.figures() for uci, count in moves.items()}  # fmt: skip
        counts = [one.games for one in found.moves]
        assert counts == sorted(counts, reverse=True)


@pytest.fixture(scope="module")
def text() -> str:
    """Games with knights that come back, so that positions repeat within a game."""
    maker = GameMaker(seed=21, habit=0.6, shortest=6, longest=30)
    rng = random.Random(3)
    games = []
    for number in range(900):
        sans = maker.sans()
        if rng.random() < 0.15:
            sans = ["Nf3", "Nf6", "Ng1", "Ng8", *maker.sans()]
        games.append(game_text(maker.tags(number), sans))
    games += games[100:150]
    games += games[-1:]
    return "".join(games)


@pytest.fixture(scope="module")
def plain(text: str) -> Plain:
    return plain_count(text)[0]


def build(folder: Path, *texts: str, name: str = "games", **options: int) -> BuildReport:
    files = []
    for number, one in enumerate(texts):
        file = folder / f"{name}{number}.pgn"
        file.write_text(one, encoding="utf-8")
        files.append(file)
    return build_base(folder / "base", files, plies=PLIES, **options)


def test_figures(tmp_path: Path, text: str, plain: Plain) -> None:
    report = build(tmp_path, text)
    assert (report.added, report.duplicates) == (900, 51)
    with ReferenceBase(tmp_path / "base") as base:
        check(base, plain)
        start = base.position(chess.Board())
        assert start.games == 900
        assert base.position(chess.Board("4k3/8/8/8/8/8/8/4K3 w - - 0 1")).games == 0


def test_several_processes(tmp_path: Path, text: str, plain: Plain) -> None:
    report = build(tmp_path, text, jobs=2, block_bytes=40_000)
    assert (report.added, report.duplicates) == (900, 51)
    with ReferenceBase(tmp_path / "base") as base:
        check(base, plain)


def in_parts(text: str, count: int) -> list[str]:
    games = [f"[Event {game}" for game in text.split("[Event ")[1:]]
    size = len(games) // count + 1
    return ["".join(games[start : start + size]) for start in range(0, len(games), size)]


@pytest.mark.parametrize("count", [2, 7])
def test_in_parts(tmp_path: Path, text: str, plain: Plain, count: int) -> None:
    for number, part in enumerate(in_parts(text, count)):
        build(tmp_path, part, name=f"part{number}-")
    with ReferenceBase(tmp_path / "base") as base:
        check(base, plain)


def test_small_ranges_and_buckets_made_anew(
    tmp_path: Path, text: str, plain: Plain, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("trainer.games.base.merger.VISITS_AT_A_TIME", 500)
    monkeypatch.setattr("trainer.games.base.merger._FEWEST_BITS", 16)
    monkeypatch.setattr("trainer.games.base.grouping.VISITS_IN_ROW", 7)
    monkeypatch.setattr("trainer.games.base.merger._MANY", 20)
    first, second = in_parts(text, 2)
    build(tmp_path, first, name="a")
    made = []
    make_room = Merger._make_room

    def noted(merger: Merger, visits: int) -> None:
        before = merger._bits
        monkeypatch.setattr("trainer.games.base.merger._MOST_IN_BUCKET", 0)
        monkeypatch.setattr("trainer.games.base.merger._FEWEST_BITS", 19)
        make_room(merger, 1 << 30)
        made.append((before, merger._bits))

    monkeypatch.setattr(Merger, "_make_room", noted)
    with ReferenceBase(tmp_path / "base") as held:
        assert 0 < held.position(chess.Board()).games < 900
        build(tmp_path, second, name="b")
        assert made[0][0] < made[0][1]
        # Who had opened it before finds what was added, whatever bucket it is in by now.
        with ReferenceBase(tmp_path / "base") as base:
            check(base, plain)
            for epd in plain:
                board = chess.Board(f"{epd} 0 1")
                assert held.position(board) == base.position(board)


def test_a_row_of_totals_is_read_as_numpy_reads_it() -> None:
    rng = np.random.default_rng(1)
    rows = np.zeros(50, TOTAL)
    for name in TOTAL.names or ():
        limits = np.iinfo(TOTAL[name])
        rows[name] = rng.integers(limits.min, limits.max, 50, TOTAL[name], endpoint=True)
    assert list(TOTAL_ROW.iter_unpack(rows.tobytes())) == rows.tolist()


def test_a_file_added_again_adds_nothing(tmp_path: Path, text: str, plain: Plain) -> None:
    build(tmp_path, text)
    before = (tmp_path / "base").read_bytes()
    again = build(tmp_path, text)
    assert (again.added, again.duplicates, again.total) == (0, 0, 900)
    assert again.unchanged == (tmp_path / "games0.pgn",)
    copy = build(tmp_path, text, name="copy")
    assert (copy.added, copy.duplicates) == (0, 951)
    with ReferenceBase(tmp_path / "base") as base:
        check(base, plain)
        assert base.game(1).path == tmp_path / "copy0.pgn"
    assert len(before) > 10_000


def test_of_an_appended_file_only_the_new_games_are_read(
    tmp_path: Path, text: str, plain: Plain
) -> None:
    first, second = in_parts(text, 2)
    build(tmp_path, first)
    report = build(tmp_path, first + second)
    # The last game is read again, as it may have been incomplete.
    assert report.added + report.duplicates == second.count("[Event ") + 1
    with ReferenceBase(tmp_path / "base") as base:
        check(base, plain)


def test_newest_first(tmp_path: Path, text: str) -> None:
    """A file in the other order has the same figures: what is first is a matter of dates."""
    games = [f"[Event {game}" for game in text.split("[Event ")[1:]]
    dated = [game for game in games if "?" not in game.split("]")[2]]
    timed = [
        game.replace("\n\n", f'\n[UTCTime "{number // 60 % 24:02}:{number % 60:02}:00"]\n\n', 1)
        for number, game in enumerate(dict.fromkeys(dated))
    ]
    backward = "".join(reversed(timed))
    build(tmp_path, backward)
    with ReferenceBase(tmp_path / "base") as base:
        check(base, plain_count("".join(timed))[0])


def test_earlier_games(tmp_path: Path, text: str) -> None:
    for number, part in enumerate(in_parts(text, 3)):
        build(tmp_path, part, name=f"part{number}-")
    _, games = plain_count(text)
    whens = [(GameWhen.of(tags), epds) for tags, epds in games]
    rng = random.Random(5)
    with ReferenceBase(tmp_path / "base") as base:
        earlier: EarlierGames = base
        for tags, epds in rng.sample(games, 60):
            when = GameWhen.of(tags)
            for epd in epds:
                key = position_key(chess.Board(f"{epd} 0 1"))
                through = [other for other, there in whens if epd in there]
                expected = sum(other.earlier_than(when) for other in through)
                assert earlier.visits_before(key, when) == expected
                assert base.undated(key) == sum(not other.year for other in through)


def test_novelties(tmp_path: Path, text: str) -> None:
    """Of real games against a real base, beside a count with EPDs and dates."""
    build(tmp_path, text)
    games = [
        (GameWhen.of(tags), [position_epd(board) for board in boards])
        for tags, boards in boards_of(text)
    ]
    found = 0
    with ReferenceBase(tmp_path / "base") as base:
        for played in random.Random(8).sample(list(read_games([tmp_path / "games0.pgn"])), 80):
            earlier = [set(epds) for when, epds in games if when.earlier_than(played.when)]
            epds = [position_epd(board.board()) for board, _ in played.boards()]
            expected = None
            for ply in range(1, min(PLIES, played.plies) + 1):
                if not any(epds[ply] in there for there in earlier):
                    before = sum(epds[ply - 1] in there for there in earlier)
                    expected = Novelty(ply, played.moves()[ply - 1], before)
                    break
            novelty = find_novelty(base, played)
            assert novelty == (expected if played.when.known else None)
            found += novelty is not None
    assert found > 40


def boards_of(text: str) -> Iterator[tuple[dict[str, str], list[chess.Board]]]:
    """Tags and positions of each game, of several equal ones only the first."""
    seen: set[tuple[object, ...]] = set()
    for game in plain_loop(text, 1000):
        identity = (*(game.tags[name] for name in ("White", "Black", "Date")), *game.moves)
        if identity in seen:
            continue
        seen.add(identity)
        board = chess.Board()
        boards = [board.copy(stack=False)]
        for move in game.moves[:PLIES]:
            board.push(move)
            boards.append(board.copy(stack=False))
        yield game.tags, boards


def test_moves_of_earlier_games(tmp_path: Path, text: str) -> None:
    for number, part in enumerate(in_parts(text, 3)):
        build(tmp_path, part, name=f"games{number}")
    when = GameWhen(2005, 6, 15)
    before = "".join(
        f"[Event {game}"
        for game in text.split("[Event ")[1:]
        if GameWhen.of({"Date": game.split('[Date "')[1].split('"')[0]}).earlier_than(when)
    )
    plain, _ = plain_count(before)
    with ReferenceBase(tmp_path / "base") as base:
        epds = [epd for epd in plain if plain[epd][1]]
        for epd in [epds[0], *random.Random(1).sample(epds, 60)]:
            board = chess.Board(f"{epd} 0 1")
            key = position_key(board)
            found = base.moves_before(key, when, board)
            assert {
                one.san: (one.games, one.white, one.draws, one.black, one.last_year)
                for one in found
            } == {
                board.san(chess.Move.from_uci(uci)): (
                    *count.figures()[:4],
                    max(count.years, default=None),
                )
                for uci, count in plain[epd][1].items()
            }
            for one in found:
                assert one.first_game is not None
                stem = plain[epd][1][board.parse_san(one.san).uci()].figures()[-1]
                assert one.first_game.startswith(str(stem))
        for file in tmp_path.glob("*.pgn"):
            file.unlink()
        start = chess.Board()
        assert base.moves_before(position_key(start), when, start)
        assert base.moves_before(5, when, start) == ()
        assert base.moves_before(position_key(start), GameWhen(), start) == ()


def test_games_through_a_position(tmp_path: Path, text: str) -> None:
    build(tmp_path, text)
    with ReferenceBase(tmp_path / "base") as base:
        board = chess.Board()
        everything = base.games_through(position_key(board), 2000)
        assert len(everything) == 900
        dates = [game.date for game in everything if not game.date.startswith("?")]
        assert dates == sorted(dates, key=lambda date: date.replace("??", "99"), reverse=True)
        assert len(base.games_through(position_key(board), 10)) == 10
        for san in ("e4", "e5", "Nf3"):
            board.push_san(san)
        games = base.games_through(position_key(board))
        assert len(games) == base.position(board).games
        for game in games[:20]:
            text_of_it = base.game_text(game)
            assert f'[White "{game.white}"]' in text_of_it
            assert next(plain_loop(text_of_it)).tags["Result"] == game.result
        assert games[0].title().count(",") >= 2
        with pytest.raises(KeyError):
            base.game(123_456)
        (tmp_path / "games0.pgn").write_text('[White "Somebody"]\n\n1. a3 *\n' * 2000)
        with pytest.raises(GamesFileError, match="has changed"):
            base.game_text(games[0])


def test_what_is_not_in_the_figures_is_counted_and_listed(tmp_path: Path) -> None:
    good = '[Event "x"]\n[White "W"]\n[Black "B"]\n\n1. e4 e5 1-0\n\n'
    bad = '[Event "x"]\n\n1. e4 e5\n2. Ke3 0-1\n\n'
    odd = '[Event "x"]\n[Variant "Antichess"]\n\n1. e3 *\n\n'
    other = '[Event "x"]\n[FEN "4k3/8/8/8/8/8/4P3/4K3 w - - 0 1"]\n\n1. e4 *\n\n'
    empty = '[Event "x"]\n\n1-0\n\n'
    report = build(tmp_path, good + bad + odd + other + empty)
    assert report.tallies == {"broken": 1, "variant": 1, "other start": 1, "no moves": 1}
    assert [(one.game, one.line) for one in report.unused] == [(2, 10), (3, 12), (4, 17), (5, 22)]
    assert report.unused[0].reason == "“Ke3” is not a legal move after e5"
    with ReferenceBase(tmp_path / "base") as base:
        assert base.unused() == report.unused
        assert base.summary().tallies == report.tallies
        assert base.position(chess.Board()).games == 1
    # The broken game at the end of the file is read again when more follows, and counted once.
    more = build(tmp_path, good + bad + odd + other + empty + good.replace("e5", "c5"))
    assert (more.added, more.tallies["no moves"]) == (1, 0)
    with ReferenceBase(tmp_path / "base") as base:
        assert base.summary().tallies == report.tallies


def test_where_the_file_is_none(tmp_path: Path) -> None:
    with pytest.raises(BaseFileError, match="There is no reference base"):
        ReferenceBase(tmp_path / "nothing")
    (tmp_path / "base").write_bytes(b"1. e4 e5\n" * 100)
    with pytest.raises(BaseFileError, match="no reference base"):
        ReferenceBase(tmp_path / "base")
    with pytest.raises(BaseFileError, match="no reference base"):
        build(tmp_path, "1. e4 *")
    assert (tmp_path / "base").read_bytes() == b"1. e4 e5\n" * 100


def test_no_games_at_all(tmp_path: Path) -> None:
    assert build(tmp_path, "").added == 0
    with ReferenceBase(tmp_path / "base") as base:
        assert base.position(chess.Board()).games == 0
        assert base.undated(position_key(chess.Board())) == 0
        assert base.summary().games == 0
    assert moments.year(moments.UNDATED) == 0
