"""A repertoire from whole games, held to counting the same games with python-chess."""

from __future__ import annotations

import io
import random
from collections import Counter
from pathlib import Path

import chess
import chess.pgn
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.memory_graphs import node_after
from tests.repertoire_texts import described, reachable
from trainer.errors import RepertoireFileError
from trainer.position import position_key
from trainer.repertoire.audit import audit
from trainer.repertoire.reader import read_repertoire_text
from trainer.repertoire.workshop.games import ImportCancelledError
from trainer.repertoire.workshop.importing import (
    Imported,
    ImportOptions,
    import_both_sides,
    import_games,
    players_in,
)
from trainer.repertoire.workshop.kept_games import KeptGames
from trainer.repertoire.workshop.text import EditError
from trainer.repertoire.writer import repertoire_pgn


def game(moves: str, white: str = "Ada", black: str = "Bo", result: str = "1-0") -> str:
    return f'[White "{white}"]\n[Black "{black}"]\n[Result "{result}"]\n\n{moves} {result}\n\n'


GAMES = (
    game("1. Nf3 d5 2. g3 Nf6 3. Bg2 e6") * 4
    + game("1. Nf3 d5 2. d4 Nf6", result="0-1") * 3
    + game("1. Nf3 c5 2. g3 {why} (2. e4 Nc6) 2... Nc6 3. Bg2", result="1/2-1/2") * 2
    + game("1. Nf3 g5 2. d4 g4") * 1
    + game("1. e4 e5 2. Nf3", white="Cy", black="Ada", result="0-1") * 2
    + game("1. e4 c5", white="Cy", black="Ada", result="0-1")
)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    path = tmp_path / "games.pgn"
    path.write_text(GAMES, encoding="utf-8")
    return path


def names(imported: Imported, line: str) -> list[str]:
    return [edge.san for edge in node_after(imported.repertoire, line).edges]


def test_the_most_played_moves_and_the_usual_replies(file: Path) -> None:
    found = import_games([file], ImportOptions(chess.WHITE, reply_share=0.15))
    assert names(found, "") == ["Nf3"]
    assert names(found, "Nf3") == ["d5", "c5"]
    assert names(found, "Nf3 d5") == ["g3"]
    # After 3 Bg2 the reply 3…e6 is met by nothing in these games.
    assert names(found, "Nf3 d5 g3 Nf6 Bg2") == []
    report = found.report
    assert (report.games, report.used, report.lines) == (13, 13, 2)
    assert (report.own_moves, report.rare_replies, report.unanswered) == (2, 1, 1)
    assert report.left == ()
    assert audit(found.repertoire).holes == []
    assert "13 of 13 games" in report.text()


def test_options_do_what_they_say(file: Path) -> None:
    def replies(**options: float) -> list[str]:
        return names(import_games([file], ImportOptions(chess.WHITE, **options)), "Nf3")  # type: ignore[arg-type]

    assert replies(reply_share=0.0) == ["d5", "c5", "g5"]
    assert replies(reply_share=0.5) == ["d5"]
    assert replies(reply_share=0.5, reply_games=2) == ["d5", "c5"]
    assert replies(reply_share=0.0, least_reply_games=2) == ["d5", "c5"]
    assert replies(reply_share=0.0, most_lines=2) == ["d5", "c5"]
    assert replies(reply_share=0.0, plies=1) == []
    # With Black, 1…c5 scored one point in two games, 1…d5 three in seven.
    best = import_games([file], ImportOptions(chess.BLACK, choice="best score"))
    assert names(best, "Nf3") == ["d5"]
    best = import_games([file], ImportOptions(chess.BLACK, choice="best score", least_games=2))
    assert names(best, "Nf3") == ["c5"]
    score = ImportOptions(chess.WHITE, player="ada", choice="best score", least_games=1)
    assert names(import_games([file], score), "Nf3 g5") == ["d4"]
    for wrong in (
        ImportOptions(chess.WHITE, plies=0),
        ImportOptions(chess.WHITE, reply_share=1.5),
        ImportOptions(chess.WHITE, most_lines=-1),
        ImportOptions(chess.WHITE, player="Nobody"),
    ):
        with pytest.raises(EditError):
            import_games([file], wrong)


def test_a_file_with_both_colours_gives_two_repertoires(file: Path) -> None:
    both = import_both_sides([file], "ADA", ImportOptions(chess.WHITE, reply_share=0.0))
    assert list(both) == [chess.WHITE, chess.BLACK]
    assert names(both[chess.WHITE], "") == ["Nf3"]
    assert names(both[chess.BLACK], "") == ["e4"]
    assert names(both[chess.BLACK], "e4") == ["e5"]
    assert both[chess.BLACK].repertoire.side == chess.BLACK
    assert both[chess.BLACK].report.used == 3
    assert both[chess.WHITE].report.other_player == 3
    only = import_both_sides([file], "Cy", ImportOptions(chess.WHITE))
    assert list(only) == [chess.WHITE]
    assert players_in([file, file])[0] == ("Ada", 20, 6)
    with pytest.raises(EditError):
        import_both_sides([file], "Nobody", ImportOptions(chess.WHITE))
    with pytest.raises(EditError):
        import_both_sides([file], " ", ImportOptions(chess.WHITE))


def test_what_cannot_be_read_is_reported(tmp_path: Path) -> None:
    path = tmp_path / "games.pgn"
    text = (
        game("1. d4 d5 2. c4 Ke4 3. Nc3")
        + '[FEN "4k3/8/8/8/8/8/8/4K2R w K - 0 1"]\n\n1. O-O *\n\n'
        + game("1. d4 d5 2. c4 e6")
    )
    path.write_text(text, encoding="utf-8")
    found = import_games([path], ImportOptions(chess.WHITE))
    assert [(left.game, left.line) for left in found.report.left] == [(1, 5), (2, 7)]
    assert "Ke4" in found.report.left[0].reason
    assert "starting position" in found.report.left[1].reason
    assert (found.report.games, found.report.used) == (3, 2)
    assert names(found, "d4 d5") == ["c4"]


def random_games(rng: random.Random, count: int) -> str:
    """Games of few moves, so that they cross, repeat and share positions."""
    texts = []
    for _ in range(count):
        board = chess.Board()
        moves = []
        for _ in range(rng.randrange(9)):
            legal = [
                move
                for move in board.legal_moves
                if move.uci() in ("g1f3", "f3g1", "b1c3", "g8f6", "f6g8", "b8c6", "d2d4", "d7d5")
            ]
            if not legal:
                break
            moves.append(rng.choice(legal))
            board.push(moves[-1])
        written = chess.pgn.Game()
        written.headers["White"] = rng.choice(["Ada", "Bo"])
        written.headers["Result"] = rng.choice(["1-0", "0-1", "1/2-1/2", "*"])
        written.add_line(moves)
        texts.append(str(written))
    return "\n\n".join(texts) + "\n"


@settings(deadline=None, max_examples=60)
@given(seed=st.integers(0, 2**32))
def test_counts_are_those_of_python_chess(
    tmp_path_factory: pytest.TempPathFactory, seed: int
) -> None:
    rng = random.Random(seed)
    path = tmp_path_factory.mktemp("import") / "games.pgn"
    path.write_text(random_games(rng, rng.randrange(1, 30)), encoding="utf-8")
    plies, share = rng.randrange(1, 9), rng.choice([0.0, 0.2, 0.5])
    side = rng.choice([chess.WHITE, chess.BLACK])
    counts: dict[int, Counter[str]] = {}
    stream = io.StringIO(path.read_text(encoding="utf-8"))
    used = 0
    while (read := chess.pgn.read_game(stream)) is not None:
        board = read.board()
        seen = set()
        moves = list(read.mainline_moves())[:plies]
        used += bool(moves)
        for move in moves:
            place = (position_key(board), board.san(move))
            if place not in seen:
                counts.setdefault(place[0], Counter())[place[1]] += 1
            seen.add(place)
            board.push(move)
    options = ImportOptions(side, plies=plies, reply_share=share)
    if not used:
        with pytest.raises(EditError):
            import_games([path], options)
        return
    found = import_games([path], options)
    again = import_games([path], options)
    repertoire = found.repertoire
    assert found.report == again.report
    assert described(again.repertoire) == described(repertoire)
    assert found.report.used == used
    assert set(reachable(repertoire)) == set(repertoire.nodes.values())
    for node in repertoire.nodes.values():
        here = counts.get(node.key, Counter())
        played = [edge.san for edge in node.edges]
        if node.turn == side:
            assert len(played) == min(1, len(here))
            assert all(here[san] == max(here.values()) for san in played)
        else:
            board = node.board()
            expected = set()
            for san, games in here.items():
                board.push_san(san)
                if games >= share * here.total() and counts.get(position_key(board)):
                    expected.add(san)
                board.pop()
            assert set(played) == expected
            assert [here[san] for san in played] == sorted(
                (here[san] for san in played), reverse=True
            )
    # An unanswered reply may be a position that other games go on from: then it is no hole.
    assert audit(repertoire).holes == []
    written = read_repertoire_text(repertoire_pgn(repertoire))
    assert described(written.repertoire) == described(repertoire)


def test_an_import_tells_how_far_it_is_and_can_be_stopped(file: Path) -> None:
    shares: list[float] = []
    import_games([file, file], ImportOptions(chess.WHITE), progress=shares.append)
    assert shares == sorted(shares)
    assert all(0 <= share <= 1 for share in shares)
    assert any(share >= 0.5 for share in shares)
    with pytest.raises(ImportCancelledError):
        import_games([file], ImportOptions(chess.WHITE), cancelled=lambda: True)
    with pytest.raises(RepertoireFileError):
        import_games([file.with_name("missing.pgn")], ImportOptions(chess.WHITE))


def test_games_that_are_kept_give_what_reading_anew_gives(file: Path, tmp_path: Path) -> None:
    broken = tmp_path / "broken.pgn"
    broken.write_text(game("1. Nf3 d5 2. g3 Nf6 3. Ke4 e6"), encoding="utf-8")
    kept = KeptGames([file, broken])
    assert kept.players(8) == players_in([file, broken])
    for plies in (8, 2, 5, 12, 4):
        for side in chess.COLORS:
            options = ImportOptions(side, plies=plies)
            mine, fresh = import_games(kept, options), import_games([file, broken], options)
            assert mine.report == fresh.report
            assert described(mine.repertoire) == described(fresh.repertoire)
    few = KeptGames([file, broken], most=3)
    assert import_games(few, options).report == fresh.report
    both = import_both_sides(kept, "Ada", ImportOptions(chess.WHITE))
    assert set(both) == {chess.WHITE, chess.BLACK}


def test_what_was_kept_is_not_read_again(file: Path) -> None:
    kept = KeptGames([file])
    first = import_games(kept, ImportOptions(chess.WHITE, plies=6))
    file.unlink()
    again = import_games(kept, ImportOptions(chess.WHITE, plies=6))
    assert described(again.repertoire) == described(first.repertoire)
    with pytest.raises(RepertoireFileError):
        import_games(kept, ImportOptions(chess.WHITE, plies=7))
