"""The engine in the window, with the real engine: looking, testing, why not, and silence."""

from __future__ import annotations

import os
import random
from pathlib import Path

import chess
import pytest
from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QLabel, QPushButton
from pytestqt.qtbot import QtBot

from tests.engines import STOCKFISH, children, fake_engine
from tests.ui.conftest import MakeWindow
from tests.ui.drilling import logged, start, wait_until_kept
from tests.ui.test_drill_in_window import (
    learn_small_repertoire,
    meet_first_stranger,
)
from trainer.engine.check import FindingKind
from trainer.storage.reply_counts import ReplyCounts
from trainer.ui.drill.controller import Stage
from trainer.ui.engine import worker
from trainer.ui.engine.game_moments import MomentsBesideGame
from trainer.ui.engine.look_window import LookWindow
from trainer.ui.engine.settings_dialog import EngineDialog
from trainer.ui.engine.test_window import TestWindow
from trainer.ui.main_window import MainWindow
from trainer.ui.position_dialog import PositionDialog

PATIENCE = 30_000
QUICK = {"engine": str(STOCKFISH), "engine_seconds": 1, "engine_nodes": 5_000}

BLUNDER = """[Event "One blunder"]
[RepertoireSide "White"]

1. e4 e5 2. Nf3 Nc6 3. Nxe5 (3. Bb5 a6 4. Ba4) 3... Nxe5 *
"""


def looked(qtbot: QtBot, window: MainWindow) -> LookWindow:
    shown = window.engine.look_window
    assert shown is not None
    qtbot.waitUntil(lambda: shown.lines.count() > 0, timeout=PATIENCE)
    return shown


def test_no_engine_is_started_by_opening_a_file(make_window: MakeWindow, small: Path) -> None:
    window = make_window(small, engine=str(STOCKFISH))
    assert window.engine.adviser._worker._thread is None
    assert window.engine.look_window is None


def test_look_at_a_position_and_play_a_line_out(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    course = window.course
    assert course is not None
    before = len(course.repertoire.nodes)
    window.look_here()
    look = looked(qtbot, window)
    assert look.isVisible()
    assert not look.isModal()
    assert look.shown == chess.Board()
    assert look.fair_play.isVisible()
    assert window.settings.engine_note_read
    assert "advantage" in look.verdict.text() or "even" in look.verdict.text()
    assert "for White" in look.figures.text()
    assert look.lines.count() == 3
    words, moves = look.lines.item(0).text().splitlines()
    assert moves.startswith("1 ")
    assert "advantage" in words or "even" in words
    qtbot.waitUntil(lambda: not window.engine.adviser.working, timeout=PATIENCE)
    look.lines.setCurrentRow(0)
    look.buttons["step"].click()
    assert look.shown != chess.Board()
    assert "tried here: 1 " in look.order.text()
    looked(qtbot, window)
    look.buttons["out"].click()
    assert look.buttons["back"].isEnabled()
    look.buttons["start"].click()
    assert look.shown == chess.Board()
    assert len(course.repertoire.nodes) == before
    look.close()
    window.look_here()
    assert not look.fair_play.isVisible()


def test_a_line_is_taken_into_the_repertoire_and_undone(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    window.look_here()
    look = looked(qtbot, window)
    move = chess.Move.from_uci("b2b3")
    look.board.move_made.emit(move)
    assert window.course is not None
    assert window.course.repertoire.roots[0].edge_for(move) is None
    look.buttons["take"].click()
    qtbot.waitUntil(
        lambda: (
            window.course is not None
            and window.course.repertoire.roots[0].edge_for(move) is not None
        ),
        timeout=PATIENCE,
    )
    assert window.desk is not None
    qtbot.waitUntil(lambda: bool(window.desk and window.desk.undoable), timeout=PATIENCE)
    window.desk.undo()
    qtbot.waitUntil(
        lambda: (
            window.course is not None and window.course.repertoire.roots[0].edge_for(move) is None
        ),
        timeout=PATIENCE,
    )
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=PATIENCE)


def test_why_not_any_move(qtbot: QtBot, make_window: MakeWindow, small: Path) -> None:
    window = make_window(small, **QUICK)
    board = chess.Board("rnbqkbnr/pppp1ppp/8/4p3/8/5P2/PPPPP1PP/RNBQKBNR w KQkq - 0 2")
    window.engine.look_at_board(board, number=2)
    look = looked(qtbot, window)
    look.why.setText("Ke3")
    qtbot.keyClick(look.why, Qt.Key.Key_Return)
    assert "not" in look.answer.text().lower()
    look.why.setText("g4")
    qtbot.keyClick(look.why, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: "mate at once" in look.answer.text(), timeout=PATIENCE)
    assert look.answer.text().startswith("2 g4 Qh4#")
    assert look.isVisible()


def test_a_bad_engine_is_one_sentence_and_the_window_goes_on(
    qtbot: QtBot, make_window: MakeWindow, small: Path, tmp_path: Path
) -> None:
    window = make_window(small, engine=str(fake_engine(tmp_path, "crash")), engine_seconds=1)
    window.look_here()
    look = window.engine.look_window
    assert look is not None
    qtbot.waitUntil(lambda: "ended in the middle" in look.figures.text(), timeout=PATIENCE)
    window._change_and_apply({"engine": str(STOCKFISH)})
    look.ask_again()
    looked(qtbot, window)
    window._change_and_apply({"engine": str(tmp_path / "nothing")})
    look.ask_again()
    qtbot.waitUntil(lambda: "no engine at" in look.figures.text(), timeout=PATIENCE)


@pytest.mark.parametrize(
    ("way", "said"),
    [
        ("silence", "does not answer"),
        ("never done", "does not answer"),
        ("flood", "floods"),
        ("endless line", "does not end"),
        ("illegal line", "not legal"),
        ("garbage", "was stopped"),
        ("flood at the handshake", "floods"),
    ],
)
def test_whatever_an_engine_does_the_window_goes_on(
    qtbot: QtBot, make_window: MakeWindow, small: Path, tmp_path: Path, way: str, said: str
) -> None:
    # What earlier tests started may still be there.
    before = set(children(os.getpid()))
    window = make_window(small, engine=str(fake_engine(tmp_path, way)), engine_seconds=1)
    window.look_here()
    look = window.engine.look_window
    assert look is not None
    qtbot.waitUntil(lambda: said in look.figures.text(), timeout=2 * PATIENCE)
    assert look.figures.text().count(". ") == 0, "one sentence"
    qtbot.waitUntil(lambda: set(children(os.getpid())) <= before, timeout=PATIENCE)
    window._change_and_apply({"engine": str(STOCKFISH)})
    look.ask_again()
    looked(qtbot, window)


def under_test(window: MainWindow) -> TestWindow:
    window.engine.show_test()
    shown = window.engine.test_window
    assert shown is not None
    return shown


def test_the_repertoire_is_tested_in_the_background(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "blunder.pgn"
    path.write_text(BLUNDER, encoding="utf-8")
    window = make_window(path, **QUICK)
    test = under_test(window)
    test.start_button.click()
    assert not test.start_button.isEnabled()
    qtbot.waitUntil(lambda: test.state.text().startswith("Done: 10 positions"), timeout=PATIENCE)
    texts = [test.list.item(row).text() for row in range(test.list.count())]
    assert any("Nxe5 loses" in text and "every game gets" in text for text in texts)
    weights = [finding.weight for finding in test.findings]
    assert weights == sorted(weights, reverse=True)
    row = next(row for row, text in enumerate(texts) if "Nxe5 loses" in text)
    test.list.itemActivated.emit(test.list.item(row))
    look = looked(qtbot, window)
    assert look.order.text() == "1 e4 e5 2 Nf3 Nc6"
    qtbot.waitUntil(lambda: "3 Nxe5 Nxe5" in look.answer.text(), timeout=PATIENCE)
    assert look.lines.item(0).text().splitlines()[1].startswith("3 ")


def test_the_test_goes_by_measured_reach(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "two.pgn"
    path.write_text(
        '[RepertoireSide "White"]\n\n1. e4 e5 (1... f6 2. d4 g5 3. Nc3) 2. Nf3 Nc6 3. Nxe5 *\n',
        encoding="utf-8",
    )
    window = make_window(path, **QUICK, base_counts_as=2.0)
    course = window.course
    assert course is not None
    first = course.repertoire.roots[0].edges[0].child
    course.use_replies(ReplyCounts({first.key: {"f7f6": 8}}, {}))
    test = under_test(window)
    test.start()
    qtbot.waitUntil(lambda: test.state.text().startswith("Done"), timeout=PATIENCE)
    # Eight games, and two of the base that count for both alike: 9 and 1 of 10.
    shares = {
        finding.node.board().san(finding.move): finding.reach
        for finding in test.findings
        if finding.move is not None and finding.kind is FindingKind.LOSES
    }
    assert shares == pytest.approx({"Nc3": 0.9, "Nxe5": 0.1})
    assert test.findings[0].reach == pytest.approx(0.9)


def test_a_question_of_the_player_goes_before_the_test_which_goes_on_afterwards(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "blunder.pgn"
    path.write_text(BLUNDER, encoding="utf-8")
    window = make_window(path, **{**QUICK, "engine_nodes": 200_000})
    test = under_test(window)
    test.start()
    qtbot.waitUntil(lambda: test.progress.value() >= 1, timeout=PATIENCE)
    window.look_here()
    looked(qtbot, window)
    assert test.running
    qtbot.waitUntil(lambda: test.state.text().startswith("Done"), timeout=2 * PATIENCE)
    keys = [(finding.node.key, finding.kind, finding.move) for finding in test.findings]
    assert len(set(keys)) == len(keys) == test.list.count()


def test_a_test_is_stopped_and_goes_on(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "blunder.pgn"
    path.write_text(BLUNDER, encoding="utf-8")
    window = make_window(path, **{**QUICK, "engine_nodes": 300_000})
    test = under_test(window)
    test.start()
    qtbot.waitUntil(lambda: test.progress.value() >= 1, timeout=2 * PATIENCE)
    test.stop()
    assert "Stopped after" in test.state.text()
    qtbot.waitUntil(lambda: not window.engine.adviser.working, timeout=PATIENCE)
    window._change_and_apply({"engine_nodes": 5_000})
    test.start()
    qtbot.waitUntil(lambda: test.state.text().startswith("Done"), timeout=PATIENCE)
    # After an edit what was found still stands there, and the text says what it is of.
    found = test.list.count()
    assert found
    window.engine.set_course(window.course)
    assert test.list.count() == found
    assert "has changed since the test" in test.state.text()
    # With another repertoire it is gone.
    window.engine.set_course(None)
    assert test.list.count() == 0


def test_a_finding_has_its_remedy_at_hand(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "unsound.pgn"
    path.write_text(
        '[RepertoireSide "White"]\n\n1. e4 e5 2. Nf3 d6 3. Nxe5 a6 4. Nf3 *\n', encoding="utf-8"
    )
    window = make_window(path, **QUICK)
    test = under_test(window)
    assert not test.take_button.isEnabled()
    test.start()
    qtbot.waitUntil(lambda: test.state.text().startswith("Done"), timeout=PATIENCE)
    hole = next(n for n, f in enumerate(test.findings) if f.kind is FindingKind.HOLE)
    finding = test.findings[hole]
    test.list.setCurrentRow(hole)
    assert test.take_button.text().startswith("Take &in the answer ")
    # With the keyboard: the button's letter.
    test.take_button.setFocus(Qt.FocusReason.TabFocusReason)
    qtbot.keyClick(test.take_button, Qt.Key.Key_Space)
    assert finding not in test.findings
    assert window.course is not None
    repertoire = window.course.repertoire

    def answered() -> bool:
        reply = repertoire.nodes[finding.node.key].edge_for(finding.remedy[0])
        return reply is not None and reply.child.edge_for(finding.remedy[1]) is not None

    qtbot.waitUntil(answered, timeout=PATIENCE)
    qtbot.waitUntil(lambda: "has changed since the test" in test.state.text(), timeout=PATIENCE)
    assert test.findings, "what else was found still stands there"
    loses = next(n for n, f in enumerate(test.findings) if f.kind is FindingKind.LOSES)
    test.list.setCurrentRow(loses)
    test.edit_button.click()
    assert window.desk is not None
    assert window.places.current() is window.desk.page
    assert window.desk.page.board.board.epd() == test.findings[loses].node.board().epd()
    # Nothing is left to be saved when the window closes.
    window.desk.undo()
    qtbot.waitUntil(lambda: bool(window.desk) and not window.desk.undoable, timeout=PATIENCE)
    qtbot.waitUntil(lambda: not window._runner.busy(), timeout=PATIENCE)


def test_the_engine_is_silent_while_a_question_is_open(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    window.look_here()
    look = looked(qtbot, window)
    window.start_drill()
    controller = window.drills.controller
    assert controller is not None
    qtbot.waitUntil(lambda: controller.stage is Stage.ASKING, timeout=PATIENCE)
    adviser = window.engine.adviser
    assert adviser.silent
    qtbot.waitUntil(lambda: not adviser.working, timeout=PATIENCE)
    panel = window.drills.view.panel
    assert panel.why_not.isHidden()
    qtbot.keyClicks(window.drills.view.entry, "y")
    window.look_here()
    look.ask_again()
    qtbot.waitUntil(lambda: "silent until it is answered" in look.figures.text(), timeout=PATIENCE)
    assert not adviser.working
    # The answer is wrong and is recorded; then, and not before, the engine may be asked.
    window.drills.view.typed.emit("a4")
    wait_until_kept(qtbot, window)
    assert controller.stage is Stage.CORRECTING
    assert not adviser.silent
    assert panel.why_not.isVisible()
    assert panel.why_not.text() == "Why not a4?  [Y]"
    assert panel.against.isHidden()
    assert window.course is not None
    assert window.course.answers
    look.close()
    qtbot.keyClicks(window.drills.view.entry, "y")
    qtbot.waitUntil(lambda: "a4" in panel.against.text(), timeout=PATIENCE)
    qtbot.waitUntil(lambda: not adviser.working, timeout=PATIENCE)
    # The prepared move ends the question, and the next one is asked in silence.
    window.drills.view.typed.emit("d3")
    wait_until_kept(qtbot, window)
    qtbot.waitUntil(lambda: controller.stage is Stage.READING, timeout=PATIENCE)
    assert panel.why_not.isVisible()
    window.drills.view.proceed.emit()
    qtbot.waitUntil(lambda: controller.stage is Stage.ASKING, timeout=PATIENCE)
    assert adviser.silent
    assert panel.why_not.isHidden()
    assert panel.against.isHidden()
    controller.leave()
    assert not adviser.silent


def test_the_end_of_a_drill_tells_why_a_missed_move_was_wrong(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    start(qtbot, window)
    window.drills.view.typed.emit("g4")
    wait_until_kept(qtbot, window)
    window.drills.view.typed.emit("d3")
    wait_until_kept(qtbot, window)
    assert window.drills.controller is not None
    window.drills.controller.leave()
    qtbot.waitUntil(lambda: window.places.current() is window.drills.summary, timeout=PATIENCE)
    buttons = [
        button
        for button in window.drills.summary.missed.findChildren(QPushButton)
        if button.text().startswith("Why not")
    ]
    assert [button.text() for button in buttons] == ["Why not g4?"]
    # It is reached and pressed with the keyboard as well.
    buttons[0].setFocus(Qt.FocusReason.TabFocusReason)
    assert buttons[0].hasFocus()
    qtbot.keyClick(buttons[0], Qt.Key.Key_Space)
    look = looked(qtbot, window)
    assert look.shown == chess.Board()
    qtbot.waitUntil(lambda: "g4" in look.answer.text(), timeout=PATIENCE)
    qtbot.waitUntil(lambda: not look.answer.text().endswith("…"), timeout=PATIENCE)
    assert "engine would play" in look.answer.text()
    # Any other move can be named there too.
    look.why.setText("f3")
    qtbot.keyClick(look.why, Qt.Key.Key_Return)
    qtbot.waitUntil(
        lambda: "f3" in look.answer.text() and not look.answer.text().endswith("…"),
        timeout=PATIENCE,
    )


def test_an_engine_is_chosen_tried_and_remembered(
    qtbot: QtBot, make_window: MakeWindow, small: Path, tmp_path: Path
) -> None:
    window = make_window(small)
    dialog = EngineDialog(window.settings, window.engine.adviser, window)
    qtbot.addWidget(dialog)
    dialog.show()
    assert dialog.engine.findData(str(STOCKFISH)) >= 0
    dialog.offer(STOCKFISH)
    qtbot.waitUntil(lambda: "It answers: Stockfish" in dialog.said.text(), timeout=PATIENCE)
    dialog.offer(fake_engine(tmp_path, "ends at once"))
    qtbot.waitUntil(lambda: "choose another program" in dialog.said.text(), timeout=PATIENCE)
    honest = fake_engine(tmp_path, "honest")
    dialog.offer(honest)
    qtbot.waitUntil(lambda: "It answers: Fake honest" in dialog.said.text(), timeout=PATIENCE)
    dialog.hash.setValue(32)
    chosen = dialog.settings()
    assert (chosen.engine, chosen.engine_hash_mb) == (str(honest), 32)
    dialog.done(QDialog.DialogCode.Accepted)


def test_closing_the_window_ends_a_running_engine(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **{**QUICK, "engine_seconds": 600})
    window.look_here()
    looked(qtbot, window)
    engine = window.engine.adviser._worker._engine
    assert engine is not None
    pid = engine.pid
    assert Path(f"/proc/{pid}").exists()
    window.close()
    assert not Path(f"/proc/{pid}").exists()


def test_critical_moments_stand_beside_a_game_and_on_its_ribbon(
    qtbot: QtBot, make_window: MakeWindow, small: Path, tmp_path: Path
) -> None:
    games = tmp_path / "mine.pgn"
    games.write_text(
        '[White "Linden, Mara"]\n[Black "Ash, Bo"]\n[Result "0-1"]\n\n'
        "1. d3 e5 2. Nf3 Nc6 3. Nxe5 Nxe5 4. d4 Ng6 0-1\n",
        encoding="utf-8",
    )
    window = make_window(small, **QUICK, player="Linden, Mara", games_files=(str(games),))
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(lambda: place.gathered is not None, timeout=PATIENCE)
    assert place.gathered is not None
    place._open(place.gathered.entries[0])
    beside = place.page.findChild(MomentsBesideGame)
    assert beside is not None
    beside.button.click()
    # Four million nodes, whatever else the machine does.
    qtbot.waitUntil(beside.button.isHidden, timeout=8 * PATIENCE)
    said = [label.text() for label in beside.panel.findChildren(QLabel)]
    assert any("3 Nxe5 turned the game" in text for text in said)
    assert place.page.ribbon.strip._line is not None
    assert "the game turns" in place.page.ribbon.strip._line.mark(5)
    button = next(b for b in beside.panel.findChildren(QPushButton) if b.text() == "Show move 3")
    button.click()
    assert place.page.ply == 4
    place.page.set_look(window.settings, window._look())
    assert "the game turns" in place.page.ribbon.strip._line.mark(5)
    window.close()
    # Kept with the game: another day they are shown at once, and no engine is started.
    window = make_window(small, **QUICK, player="Linden, Mara", games_files=(str(games),))
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(lambda: place.gathered is not None, timeout=PATIENCE)
    assert place.gathered is not None
    place._open(place.gathered.entries[0])
    assert place.page.ribbon.strip._line is not None
    assert "the game turns" in place.page.ribbon.strip._line.mark(5)
    beside = place.page.findChild(MomentsBesideGame)
    assert beside is not None
    assert beside.button.isHidden()
    told: list[int] = []
    adviser = window.engine.adviser
    moves = beside._moves
    adviser.moments(
        chess.Board(), moves, done=lambda found: told.append(len(found)), failed=lambda _said: None
    )
    qtbot.waitUntil(lambda: bool(told), timeout=PATIENCE)
    assert adviser._worker._thread is None


@pytest.mark.parametrize("notation", ["letters", "figurines"])
def test_lines_stand_in_the_chosen_notation(
    qtbot: QtBot, make_window: MakeWindow, small: Path, notation: str
) -> None:
    window = make_window(small, **QUICK, notation=notation)
    board = chess.Board("4k3/8/8/8/8/8/3R4/4K2R w - - 0 1")
    window.engine.look_at_board(board)
    look = looked(qtbot, window)
    text = " ".join(look.lines.item(row).text() for row in range(look.lines.count()))
    assert ("♖" in text) == (notation == "figurines")


def test_a_test_leaves_near_best_replies_for_strangers(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    course = window.course
    assert course is not None
    node = course.repertoire.roots[0].edges[0].child
    assert course.plausible is not None
    assert list(course.plausible(node.board())) == []
    test = under_test(window)
    test.start()
    qtbot.waitUntil(lambda: test.state.text().startswith("Done"), timeout=PATIENCE)
    qtbot.waitUntil(lambda: bool(course.plausible(node.board())), timeout=PATIENCE)
    replies = course.plausible(node.board())
    assert all(node.board().is_legal(move) and weight > 0 for move, weight in replies)


def test_after_a_stranger_the_player_may_find_an_answer(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    learn_small_repertoire(small)
    seed = next(number for number in range(100) if random.Random(number).random() < 0.5)
    window = make_window(
        small, rng=random.Random(seed), **{**QUICK, "strangers": True, "stranger_rate": 0.5}
    )
    start(qtbot, window)
    meet_first_stranger(qtbot, window)
    controller, adviser = window.drills.controller, window.engine.adviser
    assert controller is not None
    before = len(logged())
    window.drills.view.command.emit("why")
    assert not adviser.working, "the question is open"
    window.drills.view.command.emit("left")
    wait_until_kept(qtbot, window)
    panel = window.drills.view.panel
    assert panel.why_not.text() == "Find an answer  [Y]"
    recorded = len(logged())
    assert recorded == before + 1
    window.drills.view.command.emit("why")
    window.drills.view.typed.emit("Ke8")
    assert "Ke8" in panel.against.text()
    window.drills.view.typed.emit("a4")
    qtbot.waitUntil(lambda: "a4" in panel.against.text(), timeout=PATIENCE)
    assert len(logged()) == recorded, "nothing of that is graded"
    assert controller.stage is Stage.READING
    window.drills.view.proceed.emit()
    qtbot.waitUntil(lambda: controller.stage is Stage.ASKING, timeout=PATIENCE)
    assert panel.against.isHidden()
    assert adviser.silent


def test_what_the_engine_said_before_is_gone_when_a_question_opens(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    window.look_here()
    look = looked(qtbot, window)
    start(qtbot, window)
    assert look.lines.count() == 0
    assert "silent until it is answered" in look.figures.text()
    assert window.drills.controller is not None
    window.drills.controller.leave()
    looked(qtbot, window)


def test_who_waits_is_told_when_something_else_is_asked(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **{**QUICK, "engine_seconds": 600})
    adviser, failed = window.engine.adviser, []
    adviser.look(chess.Board(), told=lambda _f: None, done=lambda _f: None, failed=failed.append)
    qtbot.waitUntil(lambda: adviser.working, timeout=PATIENCE)
    window.look_here()
    looked(qtbot, window)
    assert len(failed) == 1
    assert "asked something else" in failed[0]
    # A question that the player gave up himself says nothing.
    request = adviser.look(
        chess.Board(), told=lambda _f: None, done=lambda _f: None, failed=failed.append
    )
    adviser.give_up(request)
    window.look_here()
    looked(qtbot, window)
    assert len(failed) == 1


def test_a_listed_position_is_looked_at(
    qtbot: QtBot, make_window: MakeWindow, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    window = make_window(small, **QUICK)
    assert window.course is not None
    node = window.course.repertoire.decisions()[1]

    def press(dialog: PositionDialog) -> int:
        button = next(b for b in dialog.findChildren(QPushButton) if "engine" in b.text())
        button.click()
        return dialog.result()

    monkeypatch.setattr(PositionDialog, "exec", press)
    window.show_position(node)
    look = looked(qtbot, window)
    assert look.shown.epd() == node.board().epd()
    assert look.order.text() == "1 d3 d5"


def test_the_place_that_shows_a_board_is_looked_at(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    assert window.course is not None
    node = window.course.repertoire.decisions()[2]
    window.edit_at(node)
    window.look_here()
    look = looked(qtbot, window)
    assert look.shown.epd() == node.board().epd()


def test_a_position_of_a_game_is_named_by_the_game(
    qtbot: QtBot, make_window: MakeWindow, small: Path, tmp_path: Path
) -> None:
    games = tmp_path / "mine.pgn"
    games.write_text(
        '[White "Linden, Mara"]\n[Black "Ash, Bo"]\n[Result "0-1"]\n\n'
        "1. d3 e5 2. Nf3 Nc6 3. Nxe5 Nxe5 4. d4 Ng6 0-1\n",
        encoding="utf-8",
    )
    window = make_window(small, **QUICK, player="Linden, Mara", games_files=(str(games),))
    window.places.go(3)
    place = window.rooms.games
    assert place is not None
    qtbot.waitUntil(lambda: place.gathered is not None, timeout=PATIENCE)
    assert place.gathered is not None
    place._open(place.gathered.entries[0])
    place.page.go(5)
    window.look_here()
    look = looked(qtbot, window)
    assert look.shown == place.page.board.board
    assert look.order.text() == "After 3 Nxe5, not in the repertoire"
    assert look.lines.item(0).text().splitlines()[1].startswith("3…")


def test_an_engine_that_nobody_asks_is_ended_and_started_again_when_asked(
    qtbot: QtBot, make_window: MakeWindow, small: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "_IDLE", 0.3)
    # What earlier tests started may still be there.
    before = set(children(os.getpid()))
    window = make_window(small, **QUICK)
    window.look_here()
    looked(qtbot, window)
    qtbot.waitUntil(lambda: window.engine.adviser._worker._engine is None, timeout=PATIENCE)
    qtbot.waitUntil(lambda: set(children(os.getpid())) <= before, timeout=PATIENCE)
    window.engine.look_at(window.course.repertoire.decisions()[1])
    looked(qtbot, window)


def test_a_slip_taken_back_silences_the_engine_again(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **{**QUICK, "engine_nodes": 10_000_000})
    start(qtbot, window)
    window.drills.view.typed.emit("a4")
    wait_until_kept(qtbot, window)
    window.drills.view.command.emit("why")
    adviser = window.engine.adviser
    qtbot.waitUntil(lambda: adviser.working, timeout=PATIENCE)
    window.drills.view.command.emit("undo")
    wait_until_kept(qtbot, window)
    assert window.drills.controller is not None
    assert window.drills.controller.stage is Stage.ASKING
    assert adviser.silent
    qtbot.waitUntil(lambda: not adviser.working, timeout=PATIENCE)
    assert window.drills.view.panel.against.isHidden()
    assert window.drills.view.panel.why_not.isHidden()


def test_the_workshop_opens_at_what_is_looked_at(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small, **QUICK)
    assert window.course is not None
    node = window.course.repertoire.decisions()[1]
    window.engine.look_at(node)
    look = looked(qtbot, window)
    look.buttons["edit"].click()
    assert window.desk is not None
    assert window.places.current() is window.desk.page
    assert window.desk.page.board.board.epd() == node.board().epd()
    look.board.move_made.emit(chess.Move.from_uci("b2b3"))
    look.buttons["edit"].click()
    assert "not in the repertoire" in window.statusBar().currentMessage()
