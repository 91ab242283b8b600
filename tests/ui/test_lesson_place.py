"""The place Lesson in the real window: structures, plans, breaks, moments, handouts."""

from __future__ import annotations

import json
from pathlib import Path

import chess
import chess.pgn
import pytest
from PySide6.QtCore import QDate, Qt
from pytestqt.qtbot import QtBot

from tests.ui.conftest import MakeWindow
from tests.ui.drilling import wait_until_kept
from trainer.games.base.builder import build_base
from trainer.lesson.game import read_game as read_one
from trainer.lesson.game_notes import load_notes, notes_file
from trainer.lesson.handout.model import Paper
from trainer.lesson.trace import trace_of
from trainer.repertoire.reader import read_repertoire
from trainer.resources import repertoire_path
from trainer.storage.locations import find_locations
from trainer.ui.lesson.draft_panel import DraftPanel
from trainer.ui.lesson.place import LessonPlace, Section
from trainer.ui.main_window import MainWindow

#: A French advance chain with a break for White to play, and a line without any structure.
FRENCH = """[Event "Against the chain"]
[RepertoireSide "Black"]
[Result "*"]

1. e4 e6 (1... Nf6 2. e5 Nd5) 2. d4 d5 3. e5 c5 {The base of the chain.} 4. c3 Nc6 5. Nf3 Bd7
6. Be2 f6 {Its head.} *
"""
GAMES = repertoire_path("demo-games.pgn")


@pytest.fixture
def french(tmp_path: Path) -> Path:
    path = tmp_path / "chain.pgn"
    path.write_text(FRENCH, encoding="utf-8")
    return path


def opened(qtbot: QtBot, window: MainWindow) -> LessonPlace:
    window.places.go(4)
    place = window.rooms.lesson
    assert place is not None
    qtbot.waitUntil(lambda: place.panel.facts is not None, timeout=20_000)
    return place


def section(place: LessonPlace, number: Section) -> None:
    place.words.buttons[number].click()


def read_game(qtbot: QtBot, place: LessonPlace) -> None:
    section(place, Section.MOMENTS)
    place.desk.open(GAMES)
    qtbot.waitUntil(lambda: place.desk.game is not None, timeout=20_000)


def test_the_fifth_place_shows_the_structures(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(french)
    qtbot.keyClick(window, Qt.Key.Key_5, Qt.KeyboardModifier.ControlModifier)
    place = opened(qtbot, window)
    assert window.places.current() is place
    names = [
        place.panel.list.item(row).text().split("\n")[0] for row in range(place.panel.list.count())
    ]
    assert names == ["French advance chain"]
    page = place.panel.page
    assert page.title.text() == "French advance chain"
    assert "Met in 90 %" in page.met.text()
    assert page.plans.text().startswith("Black: Attack the base of the chain with c5")
    assert page.place.text() == "Position 1 of 8"
    assert page.order.text() == "1 e4 e6 2 d4 d5 3 e5 (the structure stands since 3 e5)"
    assert not page.board.hasFocus()
    assert "space" in page.words.text()


def test_positions_are_stepped_through_and_the_arrows_are_the_breaks(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    place = opened(qtbot, make_window(french))
    first = place.panel.page.board.board.board_fen()
    place.panel.page.on.click()
    qtbot.waitUntil(lambda: place.panel.page.board.board.board_fen() != first)
    assert place.panel.page.place.text() == "Position 2 of 8"
    place.panel.page.back.click()
    qtbot.waitUntil(lambda: place.panel.page.board.board.board_fen() == first)
    place.panel.page.back.click()
    qtbot.waitUntil(lambda: place.panel.page.place.text() == "Position 8 of 8")
    assert place.panel.facts is not None
    chain = place.panel.structures.shares[0].found
    targets = {target for _, target in place.panel.page.board._arrows}
    assert targets <= {*chain.breaks(chess.WHITE), *chain.breaks(chess.BLACK)}


def test_a_plan_is_kept_and_shown_in_the_drill(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(french)
    place = opened(qtbot, window)
    place.panel.page.editor.paper.setPlainText("First c5, then f6.")
    place.flush()
    kept = json.loads((find_locations().data / "plans.json").read_text(encoding="utf-8"))
    assert kept == {"french-advance": "First c5, then f6."}
    assert place.panel.page.editor._said.isHidden()
    # It is read again by another window, and belongs to the structure, not to the file.
    board = chess.Board()
    for san in ("e4", "e6", "d4", "d5", "e5"):
        board.push_san(san)
    assert window.plans.at(board) == ["Plan: First c5, then f6."]
    assert window.plans.at(chess.Board()) == []
    window.start_drill()
    controller = window.drills.controller
    assert controller is not None
    qtbot.waitUntil(lambda: controller.running, timeout=20_000)
    seen = set()
    for _ in range(40):
        qtbot.waitUntil(
            lambda: not controller.running or controller.stage.name in ("ASKING", "CORRECTING"),
            timeout=20_000,
        )
        if not controller.running:
            break
        prompt = controller._prompt
        assert prompt is not None
        node = window.course.repertoire.node_at(prompt.board)
        window.drills.view.answered.emit(node.edges[0].move)
        wait_until_kept(qtbot, window)
        if controller.stage.name == "READING":
            if prompt.board.board_fen() == board.board_fen():
                seen.add(window.drills.view.panel.plan.text())
            window.drills.view.proceed.emit()
    assert seen == {"First c5, then f6."}


def test_a_damaged_file_of_plans_is_told_and_left_alone(
    qtbot: QtBot, make_window: MakeWindow, french: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = find_locations().data / "plans.json"
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("{broken", encoding="utf-8")
    window = make_window(french)
    said: list[str] = []
    monkeypatch.setattr(window, "_complain", said.append)
    window.places.go(4)
    qtbot.waitUntil(lambda: bool(said))
    assert "plans.json cannot be read" in said[0]
    assert window.rooms.lesson is None
    assert path.read_text(encoding="utf-8") == "{broken"


def test_the_break_is_asked_on_the_board(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    place = opened(qtbot, make_window(french))
    place.panel.page.editor.paper.setPlainText("Hit the base.")
    place.panel.page.ask.click()
    panel = place.ask
    qtbot.waitUntil(lambda: place._stack.currentWidget() is panel, timeout=20_000)
    assert "French advance chain. Black to move: play the break." in panel.prompt.text()
    board = panel.board.board
    panel.hint.click()
    assert panel.said.text().startswith("Look at the")
    quiet = next(move for move in board.legal_moves if board.piece_type_at(move.from_square) != 1)
    panel.board.move_made.emit(quiet)
    assert "challenges no pawn chain" in panel.said.text()
    assert panel.board.board.board_fen() == board.board_fen()
    usual = panel._asking._run.question.usual[0]
    panel.board.move_made.emit(chess.Move(usual.start, usual.target))
    assert panel.said.text().startswith("That is the break")
    assert panel.said.text().endswith("Plan: Hit the base.")
    # Found at the second try: it does not count.
    assert panel.score.text() == "Found 0 of 1."
    assert not panel.hint.isEnabled()
    panel.next.click()
    panel.show_answer.click()
    if panel.said.text():
        assert panel.said.text().startswith("The usual break")
    qtbot.keyClick(panel, Qt.Key.Key_Escape)
    assert place._stack.currentIndex() == Section.STRUCTURES


def test_moments_are_asked_kept_and_drilled(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(french)
    place = opened(qtbot, window)
    read_game(qtbot, place)
    panel = place.moments
    assert panel.games.count() > 10
    assert panel.text.toPlainText().startswith("1 e4 e6 2 d3")
    panel.moves.setText("nonsense")
    panel.ask.click()
    assert "is no move of a game" in panel.said.text()
    panel.moves.clear()
    panel.ask.click()
    assert "Name the moves to ask first" in panel.said.text()
    panel.moves.setText("12w, 20b")
    panel.ask.click()
    ask = place.ask
    qtbot.waitUntil(lambda: place._stack.currentWidget() is ask, timeout=20_000)
    assert "White to move: find the move." in ask.prompt.text()
    for words in ("A quiet move.", "The knight on c5 moves.", "It goes to the a-file."):
        ask.hint.click()
        assert ask.said.text() == words
    ask.hint.click()
    assert ask.said.text() == "There is no other hint."
    ask.board.move_made.emit(chess.Move.from_uci("c5a4"))
    assert ask.said.text() == "Na4 is the move."
    ask.next.click()
    assert ask.board._flipped
    ask.show_answer.click()
    assert ask.said.text().startswith("20…Qb7")
    assert ask.score.text() == "Found 1 of 2."
    ask.next.click()
    assert ask.prompt.text() == "That was the last one."
    ask.end.click()
    panel.keep.click()
    qtbot.waitUntil(lambda: panel.said.text().startswith("Kept in"), timeout=20_000)
    folder = find_locations().data
    white = read_repertoire(folder / "moments-white.pgn")
    black = read_repertoire(folder / "moments-black.pgn")
    assert (len(white.repertoire.decisions()), white.skipped) == (1, [])
    assert (len(black.repertoire.decisions()), black.repertoire.side) == (1, chess.BLACK)
    panel.say("")
    panel.keep.click()  # once more keeps nothing twice
    qtbot.waitUntil(lambda: panel.said.text().startswith("Kept in"), timeout=20_000)
    assert len(read_repertoire(folder / "moments-white.pgn").repertoire.sections) == 1
    with qtbot.waitSignal(window.ready, timeout=20_000):
        window.open(folder / "moments-white.pgn")
    assert window.course is not None
    assert len(window.course.repertoire.decisions()) == 1


def test_a_draft_is_edited_and_handed_out(
    qtbot: QtBot, make_window: MakeWindow, french: Path, tmp_path: Path
) -> None:
    place = opened(qtbot, make_window(french))
    read_game(qtbot, place)
    panel = place.moments
    panel.hand_out.click()
    assert "nothing to hand out yet" in panel.said.text()
    notes = panel.notes
    notes.make.click()
    qtbot.waitUntil(lambda: place.desk.draft is not None, timeout=60_000)
    assert notes.sentences.count() == len(place.desk.draft.sentences)
    assert notes.fact.text().startswith("Stands on: ")
    notes.words.setPlainText("What I say myself.")
    assert place.desk.draft.sentences[0].text == "What I say myself."
    assert "What I say myself." in notes.sentences.item(0).text()
    assert "You have changed the words." in notes.fact.text()
    panel.hand_out.click()
    handout = place.handout
    qtbot.waitUntil(lambda: not handout.picture.pixmap().isNull(), timeout=20_000)
    assert handout.what.currentText().startswith("Game: Linden, Mara")
    out = tmp_path / "game.pgn"
    handout.write_wanted.emit(out)
    qtbot.waitUntil(lambda: handout.said.text().startswith("Written"), timeout=20_000)
    assert "What I say myself." in out.read_text(encoding="utf-8")


def drafted(qtbot: QtBot, place: LessonPlace) -> DraftPanel:
    """The panel with the draft of the first game of the demo."""
    notes = place.moments.notes
    notes.make.click()
    qtbot.waitUntil(lambda: place.desk.draft is not None, timeout=60_000)
    return notes


def test_own_sentences_are_added_moved_deleted_and_kept_with_the_game(
    qtbot: QtBot, make_window: MakeWindow, french: Path, tmp_path: Path
) -> None:
    window = make_window(french)
    place = opened(qtbot, window)
    read_game(qtbot, place)
    notes, desk = drafted(qtbot, place), place.desk
    count = notes.sentences.count()
    notes.where.setCurrentIndex(3)
    notes.where.activated.emit(3)
    board = desk.game.boards[3]
    assert notes.board.board.board_fen() == board.board_fen()
    notes.add.click()
    assert notes.sentences.count() == count + 1
    row = notes.sentences.currentRow()
    assert notes.words.hasFocus() or not window.isActiveWindow()
    notes.words.setPlainText("This is the point of the whole game.")
    assert desk.draft.sentences[row].ply == 3
    assert notes.fact.text() == "Your own words."
    notes.add.click()  # another one behind the same move, right behind it
    assert notes.sentences.currentRow() == row + 1
    notes.words.setPlainText("And this the second.")
    notes.up.click()
    own = [one.text for one in desk.draft.at(3) if one.fact is None]
    assert own == ["And this the second.", "This is the point of the whole game."]
    notes.down.click()
    assert [one.text for one in desk.draft.at(3) if one.fact is None] == own[::-1]
    while desk.draft.sentences[notes.sentences.currentRow()].ply == 3:
        notes.down.click()  # beyond the last sentence of its move: on to the next one
    assert [one.text for one in desk.draft.at(4) if one.fact is None] == ["And this the second."]
    # What was computed stands at its move.
    notes.sentences.setCurrentRow(0)
    first = desk.draft.sentences[0]
    notes.up.click()
    assert desk.draft.sentences[0] is first
    # The Delete key takes the sentence out that is chosen.
    before = notes.sentences.count()
    notes.sentences.setFocus()
    qtbot.keyClick(notes.sentences, Qt.Key.Key_Delete)
    assert notes.sentences.count() == before - 1
    assert first.text not in [one.text for one in desk.draft.sentences]
    texts = [one.text for one in desk.draft.sentences]
    # Another game and back, then another window: all of it is there, with its facts.
    place.moments.game_chosen.emit(2)
    qtbot.waitUntil(lambda: desk.number == 2, timeout=20_000)
    assert desk.draft is None
    assert notes.sentences.isHidden()
    place.moments.game_chosen.emit(1)
    qtbot.waitUntil(lambda: desk.draft is not None, timeout=60_000)
    assert [one.text for one in desk.draft.sentences] == texts
    assert sum(one.fact is None for one in desk.draft.sentences) == 2
    # Drafting anew brings the deleted sentence back and loses nothing.
    notes.make.click()
    qtbot.waitUntil(
        lambda: first.text in [one.text for one in desk.draft.sentences], timeout=60_000
    )
    assert set(texts) <= {one.text for one in desk.draft.sentences}
    place.moments.hand_out.click()
    for ending in ("pgn", "html", "pdf"):
        out = tmp_path / f"game.{ending}"
        place.handout.write_wanted.emit(out)
        qtbot.waitUntil(lambda out=out: str(out) in place.handout.said.text(), timeout=30_000)
        data = out.read_bytes()
        assert ending == "pdf" or b"This is the point of the whole game." in b" ".join(
            data.split()
        )


def test_every_sentence_is_traced_on_the_board(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    place = opened(qtbot, make_window(french))
    read_game(qtbot, place)
    notes, desk = drafted(qtbot, place), place.desk
    for row, one in enumerate(desk.draft.sentences):
        notes.sentences.setCurrentRow(row)
        trace = trace_of(desk.game, one.ply, one.fact)
        assert trace.text in notes.fact.text() or "…" in notes.fact.text()
        assert notes.board.board.board_fen() == trace.board.board_fen()
        assert notes.board._marks == trace.marks
        assert notes.board._arrows == trace.arrows


def test_everything_of_moments_is_reached_by_tab(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(french)
    place = opened(qtbot, window)
    read_game(qtbot, place)
    notes, panel = drafted(qtbot, place), place.moments
    # From the list of structures back to the words above it, and on to the moments.
    section(place, Section.STRUCTURES)
    place.panel.list.setFocus()
    for _ in range(3):
        if window.focusWidget() in place.words.buttons:
            break
        qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Backtab)
    assert window.focusWidget() in place.words.buttons
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Right)
    assert window.focusWidget() is place.words.buttons[1]
    qtbot.keyClick(window.focusWidget(), Qt.Key.Key_Space)
    assert place._stack.currentWidget() is panel
    reached = []
    for _ in range(40):
        widget = window.focusWidget()
        if widget in reached:
            break
        reached.append(widget)
        qtbot.keyClick(widget, Qt.Key.Key_Tab)
    wanted = [
        *(panel.choose, panel.games, panel.moves, panel.find, panel.ask, panel.edit, panel.keep),
        *(panel.hand_out, panel.text, notes.make, notes.where, notes.add, notes.delete),
        *(notes.up, notes.down, notes.sentences, notes.words),
    ]
    assert [widget for widget in wanted if widget not in reached] == []
    # In the order in which they stand.
    places = [reached.index(widget) for widget in wanted]
    assert places == sorted(places)


def test_moments_are_edited_and_kept_with_the_game(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    place = opened(qtbot, make_window(french))
    read_game(qtbot, place)
    panel, desk = place.moments, place.desk
    panel.moves.setText("12w")
    panel.asked_changed.emit("12w")
    panel.edit.click()
    qtbot.waitUntil(lambda: panel.dialog is not None, timeout=30_000)
    dialog = panel.dialog
    assert dialog.right.text() == "Na4"
    dialog.right.setText("Qx9")
    dialog.buttons.accepted.emit()
    assert "“Qx9” is no move in this position" in dialog.said.text()
    dialog.right.setText("Na4, b4")
    dialog.hints.setPlainText("Think of the queen's side.\n")
    dialog.wrong.setPlainText("Na4: it is right.")
    dialog.buttons.accepted.emit()
    assert "cannot be right and wrong" in dialog.said.text()
    dialog.wrong.setPlainText("Nb3: the knight stands badly there.")
    dialog.solution.setPlainText("The rim is where it is wanted.")
    dialog.buttons.accepted.emit()
    assert dialog.result() == 1
    desk.flush()
    place.moments.game_chosen.emit(2)
    qtbot.waitUntil(lambda: desk.number == 2, timeout=20_000)
    assert panel.moves.text() == ""
    place.moments.game_chosen.emit(1)
    qtbot.waitUntil(lambda: panel.moves.text() == "12w", timeout=20_000)
    panel.ask.click()
    ask = place.ask
    qtbot.waitUntil(lambda: place._stack.currentWidget() is ask, timeout=20_000)
    ask.hint.click()
    assert ask.said.text() == "Think of the queen's side."
    ask.board.move_made.emit(ask.board.board.parse_san("Nb3"))
    assert ask.said.text() == "Not Nb3: the knight stands badly there."
    ask.board.move_made.emit(ask.board.board.parse_san("b4"))
    assert ask.said.text().startswith("b4 is right as well; the main move is Na4.")


def test_notes_to_a_game_that_cannot_be_read_are_told_and_left_alone(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    path = notes_file(find_locations().data, read_one(GAMES, 1))
    path.parent.mkdir(parents=True)
    path.write_text("{broken", encoding="utf-8")
    place = opened(qtbot, make_window(french))
    read_game(qtbot, place)
    assert "cannot be read" in place.moments.said.text()
    drafted(qtbot, place)
    place.flush()
    assert path.read_text(encoding="utf-8") == "{broken"


def test_a_handout_is_looked_at_and_written(
    qtbot: QtBot, make_window: MakeWindow, french: Path, tmp_path: Path
) -> None:
    window = make_window(french)
    place = opened(qtbot, window)
    place.panel.page.hand_out.click()
    handout = place.handout
    assert handout.what.currentText() == "Structure: French advance chain"
    handout.coach.setText("Ida Fenwick")
    handout.coach.editingFinished.emit()
    assert window.settings.coach == "Ida Fenwick"
    qtbot.waitUntil(lambda: not handout.picture.pixmap().isNull(), timeout=20_000)
    assert handout.page_label.text().startswith("Page 1 of ")
    handout.paper.setCurrentIndex(1)
    assert handout.chosen_paper is Paper.LETTER
    handout.date.setDate(QDate(2026, 3, 7))
    page = tmp_path / "chain.html"
    handout.write_wanted.emit(page)
    qtbot.waitUntil(lambda: handout.said.text().startswith("Written"), timeout=20_000)
    assert "Ida Fenwick, 7 March 2026" in page.read_text(encoding="utf-8")
    handout.say("")
    out = tmp_path / "chain.pdf"
    handout.write_wanted.emit(out)
    qtbot.waitUntil(lambda: handout.said.text().startswith("Written"), timeout=20_000)
    assert out.read_bytes().startswith(b"%PDF")
    handout.write_wanted.emit(tmp_path / "chain.doc")
    qtbot.waitUntil(lambda: "end its name in" in handout.said.text(), timeout=20_000)


def test_a_repertoire_without_structures_says_so(
    qtbot: QtBot, make_window: MakeWindow, small: Path
) -> None:
    window = make_window(small)
    window.places.go(4)
    place = window.rooms.lesson
    assert place is not None
    qtbot.waitUntil(lambda: place.panel.structures is not None, timeout=20_000)
    assert "No named structure" in place.panel.empty.text()
    assert place.panel.list.count() == 0


@pytest.mark.parametrize(
    ("width", "height", "scale"), [(560, 700, 1.0), (560, 700, 2.0), (1400, 1000, 1.0)]
)
def test_no_part_is_wider_than_the_window(
    qtbot: QtBot, make_window: MakeWindow, french: Path, width: int, height: int, scale: float
) -> None:
    window = make_window(french, scale=scale)
    window.resize(width, height)
    place = opened(qtbot, window)
    for number in Section:
        section(place, number)
        qtbot.wait(20)
        assert window.width() <= width
        for widget in (
            place.panel.box,
            place.panel.list,
            place.panel._scroll,
            place.moments,
            place.handout,
        ):
            if widget.isVisible():
                right = widget.mapTo(window, widget.rect().topRight()).x()
                assert right <= window.width()
    section(place, Section.STRUCTURES)
    assert place.panel.list.isVisible() != place.panel.box.isVisible()


def test_the_engine_finds_moments_and_judges_a_trick(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    """With a real engine: the queen on b2 is trapped, and a mate in one is a moment."""
    path = tmp_path / "poisoned.pgn"
    path.write_text(
        '[Event "The pawn on b2"]\n[RepertoireSide "White"]\n\n'
        "1. d4 d5 2. Nc3 Nf6 3. Bf4 c6 4. e3 Qb6 5. a3 g6 6. Nf3 *\n",
        encoding="utf-8",
    )
    games = tmp_path / "games.pgn"
    games.write_text(
        '[White "Ash"]\n[Black "Elm"]\n\n1. e4 e5 2. Bc4 Nc6 3. Qh5 Nf6 4. Qxf7# 1-0\n',
        encoding="utf-8",
    )
    window = make_window(path)
    place = opened(qtbot, window)
    names = [place.panel.list.item(row).text() for row in range(place.panel.list.count())]
    place.panel.list.setCurrentRow(
        next(i for i, name in enumerate(names) if name.startswith("Slav"))
    )
    qtbot.waitUntil(lambda: place.panel._looking is None, timeout=20_000)
    for _ in range(8):
        if "cannot take on b2" in place.panel.page.tricks.text():
            break
        before = place.panel.facts
        place.panel.page.on.click()
        qtbot.waitUntil(lambda seen=before: place.panel.facts is not seen, timeout=20_000)
    assert "Black cannot take on b2" in place.panel.page.tricks.text()
    # It is asked by itself.
    qtbot.waitUntil(lambda: "The engine agrees." in place.panel.page.tricks.text(), timeout=60_000)
    assert not place.panel.page.judge.isVisibleTo(place.panel.page)
    section(place, Section.MOMENTS)
    place.desk.open(games)
    qtbot.waitUntil(lambda: place.desk.game is not None, timeout=20_000)
    place.moments.find.click()
    qtbot.waitUntil(
        lambda: "moments that the engine found" in place.moments.said.text(), timeout=120_000
    )
    assert "3b" in place.moments.moves.text()
    place.moments.notes.make.click()
    qtbot.waitUntil(lambda: place.desk.draft is not None, timeout=60_000)
    told = [one.text for one in place.desk.draft.sentences]
    assert any(text.startswith("A moment: ") and "was better here" in text for text in told)


def test_the_players_own_games_are_counted(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(
        repertoire_path("kings-indian-attack.pgn"),
        games_files=(str(GAMES),),
        player="Linden, Mara",
    )
    place = opened(qtbot, window)
    qtbot.waitUntil(lambda: bool(place.panel.own_games), timeout=60_000)
    text = place.panel.page.games.text()
    assert text.startswith("In ")
    assert " %), longest in Linden, Mara – " in text
    # What they come to that the repertoire does not know is told as well.
    known = {one.found.key for one in place.panel.structures.shares}
    others = [one for key, one in place.panel.own_games.items() if key not in known]
    assert others
    assert f"Your games come to others as well: {others[0].found.name} " in text
    key = place.panel.structures.shares[0].found.key
    assert all(one.players.startswith("Linden, Mara") for one in place.panel.own_games[key].games)


def test_the_structure_of_a_position_on_the_map(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(french)
    window.places.go(1)
    assert window.rooms.map is not None
    qtbot.waitUntil(lambda: window.rooms.map.chosen_node is not None, timeout=20_000)
    # The start has no named structure, and that is said.
    qtbot.keyClick(
        window,
        Qt.Key.Key_L,
        Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier,
    )
    qtbot.waitUntil(lambda: window.statusBar().currentMessage() != "", timeout=20_000)
    assert "no named structure" in window.statusBar().currentMessage()
    place = opened(qtbot, window)
    node = place.panel.structures.shares[0].nodes[3]
    place.show_position(node)
    qtbot.waitUntil(lambda: place.panel.page.place.text() == "Position 4 of 8", timeout=20_000)
    assert place.panel.page.board.board.board_fen() == node.board().board_fen()


def test_a_trick_is_noted_and_asked_for(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    path = tmp_path / "poisoned.pgn"
    path.write_text(
        '[Event "The pawn on b2"]\n[RepertoireSide "White"]\n\n'
        "1. d4 d5 2. Nc3 Nf6 3. Bf4 c6 4. e3 Qb6 5. a3 {Guards b2 without guarding it.} g6 *\n",
        encoding="utf-8",
    )
    window = make_window(path)
    place = opened(qtbot, window)
    names = [place.panel.list.item(row).text() for row in range(place.panel.list.count())]
    place.panel.list.setCurrentRow(
        next(i for i, name in enumerate(names) if name.startswith("Slav"))
    )
    qtbot.waitUntil(lambda: place.panel._looking is None, timeout=20_000)
    repertoire = window.course.repertoire
    board = chess.Board()
    for san in ("d4", "d5", "Nc3", "Nf6", "Bf4", "c6", "e3", "Qb6", "a3"):
        board.push_san(san)
    place.show_position(repertoire.node_at(board))
    wanted = "Black cannot take on b2"
    qtbot.waitUntil(lambda: wanted in place.panel.page.tricks.text(), timeout=20_000)
    place.panel.page.ask_tricks.click()
    qtbot.waitUntil(lambda: place._stack.currentWidget() is place.ask, timeout=20_000)
    assert "…Qxb2 was played" in place.ask.prompt.text()
    place.ask.board.move_made.emit(chess.Move.from_uci("c3a4"))
    assert place.ask.said.text().startswith("Na4 is the move. Black cannot take on b2")
    place.ask.end.click()
    assert place.panel.page.note.isVisibleTo(place.panel.page)
    place.panel.page.note.click()
    edge = repertoire.node_at(board).entries[0]
    qtbot.waitUntil(lambda: len(edge.comments) == 2, timeout=20_000)
    assert edge.comments[0] == "Guards b2 without guarding it."
    assert edge.comments[1].startswith("Trick: Black cannot take on b2: …Qxb2 is met by Na4")
    # The repertoire is looked at anew, and the same position is on the board again.
    qtbot.waitUntil(
        lambda: not place.panel.page.note.isVisibleTo(place.panel.page), timeout=60_000
    )
    assert wanted in place.panel.page.tricks.text()
    assert place.panel.page.board.board.board_fen() == board.board_fen()
    window.desk.undo()
    qtbot.waitUntil(lambda: len(edge.comments) == 1, timeout=20_000)


def test_model_games_come_from_the_whole_reference_base(
    qtbot: QtBot, make_window: MakeWindow, french: Path, tmp_path: Path
) -> None:
    base = tmp_path / "demo.base"
    build_base(base, [GAMES])
    window = make_window(repertoire_path("kings-indian-attack.pgn"), base_file=str(base))
    place = opened(qtbot, window)
    place.panel.list.setCurrentRow(1)
    page = place.panel.page
    page.model_games.click()
    assert page.model_games.text() == "Stop lookin&g"
    qtbot.waitUntil(lambda: "games have it" in page.found_said.text(), timeout=60_000)
    assert page.model_games.text() == "Model &games"
    # As many as a count of each game on python-chess's board gives.
    key = place.panel.structures.shares[1].found.key
    assert key == "attack-chain"
    book, count = place.panel.structures.book, 0
    with GAMES.open(encoding="utf-8") as file:
        while (game := chess.pgn.read_game(file)) is not None:
            board, stood = game.board(), 0
            for move in list(game.mainline_moves())[:80]:
                board.push(move)
                stood += key in {found.key for found in book.find(board)}
            count += stood >= 8
    assert page.found_said.text().startswith(f"{count} of all 244 games have it.")
    assert page.found_games.count() == len(place.panel.models.games) == min(count, 30)
    lengths = [one.stood for one in place.panel.models.games]
    assert lengths == sorted(lengths, reverse=True)
    for one in place.panel.models.games:
        assert key in {found.key for found in book.find(one.board)}
        assert one.opening
    page.found_games.setCurrentRow(0)
    page.found_games.itemActivated.emit(page.found_games.item(0))
    desk = window.rooms.base_desk()
    qtbot.waitUntil(lambda: desk.game is not None and desk.game.isVisible(), timeout=20_000)
    desk.game.close()
    # Another structure forgets them, and finds its own at once: all were looked for.
    place.panel.list.setCurrentRow(0)
    assert place.panel.models.games == []
    assert page.found_games.isHidden()
    page.model_games.click()
    qtbot.waitUntil(lambda: "of all 244 games" in page.found_said.text(), timeout=20_000)


def test_a_search_for_model_games_is_stopped_and_goes_on(
    qtbot: QtBot, make_window: MakeWindow, tmp_path: Path
) -> None:
    many = tmp_path / "many.pgn"
    text = GAMES.read_text(encoding="utf-8")
    many.write_text(
        "\n\n".join(text.replace('[White "', f'[White "{number} ') for number in range(10)),
        encoding="utf-8",
    )
    base = tmp_path / "many.base"
    build_base(base, [many])
    window = make_window(repertoire_path("kings-indian-attack.pgn"), base_file=str(base))
    place = opened(qtbot, window)
    page = place.panel.page
    page.model_games.click()
    qtbot.waitUntil(lambda: page.found_games.count() > 0, timeout=60_000)
    assert "of 2,440 games" in page.found_said.text()
    page.model_games.click()
    qtbot.waitUntil(lambda: "goes on" in page.found_said.text(), timeout=20_000)
    assert page.model_games.text() == "Model &games"
    page.model_games.click()
    qtbot.waitUntil(lambda: "of all 2,440 games" in page.found_said.text(), timeout=120_000)


def test_games_whose_file_is_gone_are_told(
    qtbot: QtBot, make_window: MakeWindow, french: Path, tmp_path: Path
) -> None:
    games = tmp_path / "games.pgn"
    games.write_bytes(GAMES.read_bytes())
    base = tmp_path / "demo.base"
    build_base(base, [games])
    games.unlink()
    place = opened(qtbot, make_window(french, base_file=str(base)))
    place.panel.page.model_games.click()
    qtbot.waitUntil(lambda: "cannot be read" in place.panel.page.found_said.text(), timeout=20_000)
    assert "244 cannot be read: There is no file" in place.panel.page.found_said.text()


def test_without_a_base_that_is_said(qtbot: QtBot, make_window: MakeWindow, french: Path) -> None:
    place = opened(qtbot, make_window(french))
    place.panel.page.model_games.click()
    assert "Choose a reference base first" in place.panel.page.found_said.text()


def test_what_was_just_written_is_kept_when_the_window_closes(
    qtbot: QtBot, make_window: MakeWindow, french: Path
) -> None:
    window = make_window(french)
    place = opened(qtbot, window)
    read_game(qtbot, place)
    notes = drafted(qtbot, place)
    notes.words.setPlainText("Before the pause.")
    place.desk._keep_soon()  # the pause is over, and the worker has something else to do
    window.close()
    kept = load_notes(find_locations().data, read_one(GAMES, 1))
    assert kept.sentences is not None
    assert kept.sentences[0].text == "Before the pause."
