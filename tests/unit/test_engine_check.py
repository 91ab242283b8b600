"""The engine's test of a repertoire, with the real engine and few nodes."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import chess
import pytest

from tests.engines import STOCKFISH
from trainer.engine.cache import EvaluationCache
from trainer.engine.check import (
    CheckProgress,
    CheckSettings,
    FindingKind,
    by_reach,
    check_repertoire,
)
from trainer.engine.check_report import check_text, check_values, sentence, where
from trainer.engine.evaluator import CachedEvaluator
from trainer.engine.exchange import settled
from trainer.engine.session import Engine, EngineOptions
from trainer.errors import EngineStoppedError
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.measured import measured_shares
from trainer.repertoire.reader import read_repertoire
from trainer.storage.reply_counts import ReplyCounts

DEMO = Path(__file__).resolve().parents[2] / "repertoires" / "kings-indian-attack.pgn"
FEW = CheckSettings(nodes=20_000)

#: Blunders that any book on tactics knows, each where it is prepared (common practice, no
#: source): a piece for a pawn, a mate not given, a queen left to a bishop, a bishop to a bishop.
PLANTED = """\
[Event "Sound and unsound"]
[RepertoireSide "White"]

1. e4 e5 (1... f6 2. d4 g5 3. Nc3) (1... d5 2. exd5 Qxd5 3. Nc3 Qa5 4. Qg4)
(1... Nf6 2. e5 Nd5 3. d4 d6 4. Nf3 g6 5. Bh6) (1... c5 2. Nf3 Nc6 3. d4 cxd4 4. Nxd4 Nf6 5. Nc3)
2. Nf3 Nc6 3. Bb5 (3. Nxe5) 3... a6 4. Ba4 *
"""


@pytest.fixture
def cache() -> Iterator[EvaluationCache]:
    with EvaluationCache(None) as opened:
        yield opened


@pytest.fixture
def engine() -> Iterator[Engine]:
    with Engine.start(STOCKFISH, EngineOptions(hash_mb=16)) as running:
        yield running


def load(tmp_path: Path, text: str) -> Repertoire:
    path = tmp_path / "planted.pgn"
    path.write_text(text, encoding="utf-8")
    return read_repertoire(path).repertoire


def test_planted_blunders_are_all_found_and_sound_moves_are_not(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    repertoire = load(tmp_path, PLANTED)
    told: list[CheckProgress] = []
    evaluate = CachedEvaluator(engine, cache)
    result = check_repertoire(repertoire, evaluate, FEW, told=told.append)
    assert result.complete
    assert result.done == len(repertoire.nodes) == len(told)
    accused = {
        (where(repertoire, finding.node), finding.node.board().san(finding.move))
        for finding in result.findings
        if finding.kind is FindingKind.LOSES and finding.move is not None
    }
    assert accused == {
        ("1 e4 f6 2 d4 g5", "Nc3"),
        ("1 e4 d5 2 exd5 Qxd5 3 Nc3 Qa5", "Qg4"),
        ("1 e4 Nf6 2 e5 Nd5 3 d4 d6 4 Nf3 g6", "Bh6"),
        ("1 e4 e5 2 Nf3 Nc6", "Nxe5"),
    }
    for finding in result.findings:
        board = finding.node.board()
        for move in finding.line:
            assert board.is_legal(move)
            board.push(move)
        assert finding.loss >= FEW.margin // 2
        assert 0 <= finding.reach <= 1
    weights = [finding.weight for finding in result.findings]
    assert weights == sorted(weights, reverse=True)
    assert sorted(f for p in told for f in map(id, p.found)) == sorted(map(id, result.findings))


def test_reach_follows_how_often_replies_were_played(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    text = '[RepertoireSide "White"]\n\n1. e4 e5 (1... f6 2. d4 g5 3. Nc3) 2. Nf3 Nc6 3. Nxe5 *\n'
    repertoire = load(tmp_path, text)
    evaluate = CachedEvaluator(engine, cache)
    first = repertoire.roots[0].edges[0].child

    def shares(played: dict[str, int]) -> dict[str, float]:
        # Ten games of the base count, none of which is known: half of them each.
        counts = ReplyCounts({first.key: played}, {})
        result = check_repertoire(
            repertoire, evaluate, FEW, weigh=lambda arrays: measured_shares(arrays, counts, 10.0)
        )
        return {
            f.node.board().san(f.move): f.reach
            for f in result.findings
            if f.kind is FindingKind.LOSES and f.move is not None
        }

    assert shares({}) == pytest.approx({"Nxe5": 0.5, "Nc3": 0.5})
    assert shares({"e7e5": 9, "f7f6": 1}) == pytest.approx({"Nxe5": 0.7, "Nc3": 0.3})
    assert [share for _node, share in by_reach(repertoire)][:3] == [1.0, 1.0, 0.5]


def test_a_mate_that_is_missed_is_named(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    repertoire = load(tmp_path, PLANTED)
    result = check_repertoire(repertoire, CachedEvaluator(engine, cache), FEW)
    (finding,) = [f for f in result.findings if where(repertoire, f.node) == "1 e4 f6 2 d4 g5"]
    assert finding.best == chess.Move.from_uci("d1h5")
    assert "Nc3 loses" in sentence(finding)
    assert "against Qh5#" in sentence(finding)


def test_what_a_repertoire_prepares_for_is_no_hole_and_what_it_leaves_out_is(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    # A knight takes a guarded pawn, and the file knows only that nobody takes it.
    weak = load(tmp_path, '[RepertoireSide "White"]\n\n1. e4 e5 2. Nf3 d6 3. Nxe5 a6 4. Nf3 *\n')
    evaluate = CachedEvaluator(engine, cache)
    holes = [
        f for f in check_repertoire(weak, evaluate, FEW).findings if f.kind is FindingKind.HOLE
    ]
    assert [f.node.board().san(f.move) for f in holes if f.move is not None] == ["dxe5"]
    assert holes[0].loss > 100
    known = load(
        tmp_path, '[RepertoireSide "White"]\n\n1. e4 e5 2. Nf3 d6 3. Nxe5 dxe5 4. Nc3 *\n'
    )
    found = check_repertoire(known, evaluate, FEW).findings
    assert FindingKind.HOLE not in {f.kind for f in found}
    assert {f.kind for f in found} == {FindingKind.LOSES, FindingKind.END}


def test_black_repertoires_and_lines_that_end_badly(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    repertoire = load(
        tmp_path, '[RepertoireSide "Black"]\n\n1. e4 f6 2. d4 g5 3. Nc3 Kf7 4. Qh5+ *\n'
    )
    result = check_repertoire(repertoire, CachedEvaluator(engine, cache), FEW)
    kinds = [f.kind for f in result.findings]
    # The king on f7 allows a mate soon; the check at the end is a reply without an answer.
    assert FindingKind.HOLE in kinds
    hole = next(f for f in result.findings if f.kind is FindingKind.HOLE)
    assert hole.side is chess.BLACK
    assert hole.move is not None
    assert hole.node.board().san(hole.move).startswith("Qh5")
    assert "White" in sentence(hole)


def test_a_test_that_was_stopped_goes_on_from_there(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    repertoire = load(tmp_path, PLANTED)
    kept = EvaluationCache(tmp_path / "evaluations.sqlite")
    stop = False

    def told(progress: CheckProgress) -> None:
        nonlocal stop
        stop = progress.done == 6

    evaluate = CachedEvaluator(engine, kept, lambda: stop)
    first = check_repertoire(repertoire, evaluate, FEW, told=told)
    assert not first.complete
    assert first.done == 6
    stop = False
    again = CachedEvaluator(engine, kept)
    whole = check_repertoire(repertoire, again, FEW)
    alone = CachedEvaluator(engine, cache)
    fresh = check_repertoire(repertoire, alone, FEW)
    assert again.asked + evaluate.asked <= alone.asked + 1
    assert again.asked < alone.asked
    assert [(f.kind, f.move, f.loss) for f in whole.findings] == [
        (f.kind, f.move, f.loss) for f in fresh.findings
    ]
    kept.close()


def test_the_demo_is_not_accused(engine: Engine, cache: EvaluationCache) -> None:
    # The positions that games reach most, at the nodes that a player would give them; the whole
    # demo takes minutes.
    repertoire = read_repertoire(DEMO).repertoire
    evaluate = CachedEvaluator(engine, cache)
    result = check_repertoire(repertoire, evaluate, CheckSettings(100_000, positions=20))
    assert result.total == 20
    assert result.findings == ()


def test_values_and_words(tmp_path: Path, engine: Engine, cache: EvaluationCache) -> None:
    repertoire = load(tmp_path, PLANTED)
    result = check_repertoire(repertoire, CachedEvaluator(engine, cache), CheckSettings(5_000))
    values = check_values(result, engine="Some engine", nodes=5_000, margin=100)
    assert values["complete"] is True
    listed = values["findings"]
    assert isinstance(listed, list)
    for entry in listed:
        assert list(entry) == ["fen", "move", "kind", "loss_cp", "best", "line", "reach"]
        board = chess.Board(entry["fen"])
        for san in entry["line"]:
            board.push_san(san)
    text = check_text(repertoire, result, engine="Some engine", nodes=5_000)
    assert "Prepared moves that lose something" in text
    assert f"{len(repertoire.nodes)} of {len(repertoire.nodes)} positions" in text
    nothing = check_repertoire(Repertoire(), CachedEvaluator(engine, cache))
    assert nothing.complete
    assert "Nothing was found." in check_text(Repertoire(), nothing, engine="E", nodes=1)


def test_an_engine_that_is_stopped_at_once_finds_nothing(tmp_path: Path) -> None:
    repertoire = load(tmp_path, PLANTED)

    def stopped(*_args: object, **_options: object) -> None:
        raise EngineStoppedError("Stopped.")

    result = check_repertoire(repertoire, stopped, FEW)  # type: ignore[arg-type]
    assert (result.done, result.findings) == (0, ())


def hanging_moves(board: chess.Board) -> list[chess.Move]:
    """Quiet moves after which a piece is lost by a plain exchange, and nothing is won for it."""
    side, had = board.turn, settled(board, board.turn)
    found = []
    for move in board.legal_moves:
        after = board.copy(stack=False)
        after.push(move)
        calm = not board.is_capture(move) and not after.is_check()
        if calm and settled(after, side) <= had - 3:
            found.append(move)
    return found


def test_a_piece_left_hanging_anywhere_in_the_demo_is_found(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    # What hangs is told by the rules of exchange, not by the engine that is to find it.
    decisions = read_repertoire(DEMO).repertoire.decisions()
    sections = []
    for node in decisions[7::41]:
        board = node.board()
        blunders = hanging_moves(board)
        if blunders:
            dots = "." if board.turn else "..."
            sections.append(
                f'[FEN "{board.fen(en_passant="legal")}"]\n[SetUp "1"]\n'
                f'[RepertoireSide "White"]\n\n1{dots} {board.san(blunders[0])} *\n'
            )
    assert len(sections) >= 8
    repertoire = load(tmp_path, "\n".join(sections))
    result = check_repertoire(repertoire, CachedEvaluator(engine, cache), FEW)
    accused = {f.node for f in result.findings if f.kind is FindingKind.LOSES}
    assert accused == set(repertoire.decisions())
    assert len(accused) == len(sections)


def test_a_position_that_no_game_reaches_is_passed_by(
    tmp_path: Path, engine: Engine, cache: EvaluationCache
) -> None:
    study = (
        '[FEN "4k3/pppppppp/p7/8/8/8/8/4K2R w - - 0 1"]\n[SetUp "1"]\n'
        '[RepertoireSide "White"]\n\n1. Kd2 *\n'
    )
    repertoire = load(tmp_path, study)
    result = check_repertoire(repertoire, CachedEvaluator(engine, cache), FEW)
    assert result.complete
    assert result.findings == ()
