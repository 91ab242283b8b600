"""Turns what the player does on the page into steps of editing, and shows what came of them."""

from __future__ import annotations

from dataclasses import replace

import chess
from PySide6.QtCore import QObject, QTimer, Signal
from PySide6.QtWidgets import QApplication, QDialog

from trainer.notation.display import shown_san, shown_text
from trainer.notation.nags import meanings
from trainer.notation.typed import TypedMoveError, parse_typed
from trainer.repertoire.graph import Edge, Node, Section
from trainer.repertoire.notes import NoteKind
from trainer.repertoire.workshop import edits
from trainer.repertoire.workshop.edits import Edit
from trainer.repertoire.workshop.findings import AuditEntry, Remedy
from trainer.repertoire.workshop.results import Added, Removed, Result
from trainer.repertoire.workshop.text import split_paragraphs
from trainer.storage.settings import Settings
from trainer.ui.letting_go import LettingGo
from trainer.ui.look import FIRST_LOOK, Look
from trainer.ui.workshop import places
from trainer.ui.workshop.boxes import ask_to_delete
from trainer.ui.workshop.findings import Findings
from trainer.ui.workshop.page import WorkshopPage
from trainer.ui.workshop.paste_dialog import PasteDialog
from trainer.ui.workshop.places import Spot
from trainer.ui.workshop.report import told
from trainer.ui.workshop.signs import SignsDialog
from trainer.ui.workshop.words import page_words, positions_behind, removal_sentence
from trainer.ui.workshop.workbench import Step, StepKind, Workbench

#: What so many positions hang on is not deleted in the thread of the window.
_LARGE = 2_000
_TO_DO = {
    Remedy.ADD_MOVE: "Play a move on the board, or type it.",
    Remedy.ADD_REPLY: "Enter adds it to the line; then play your answer.",
    Remedy.CHOOSE_MAIN: "Choose a line below and press M; the others stay accepted.",
    Remedy.WRITE_REASON: "Write why it is played.",
    Remedy.CUT_LINE: "Delete takes away the chosen line with what hangs on it.",
}


class Author(QObject):
    """Knows where on the page the player is."""

    #: The player wants to leave.
    leaving = Signal()
    #: What is for others to do: "save", "right", "undo" or "redo".
    asked = Signal(str)

    def __init__(self, page: WorkshopPage, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.page = page
        self.spot: Spot | None = None
        self._bench: Workbench | None = None
        self._findings = Findings()
        self._letting_go = LettingGo(self)
        self._look = FIRST_LOOK
        self._flipped: bool | None = None
        #: The last text of a note that grows while it is typed.
        self._writing: Edit | None = None
        #: What stands where moves are typed without anybody having typed it.
        self._offered = ""
        #: New moves that led to known positions: nothing more is asked for there.
        self._joined: set[Edge] = set()
        page.played.connect(self._play)
        page.typed.connect(self._play_typed)
        page.command.connect(self.command)
        page.note_written.connect(self._write_note)
        page.before_written.connect(self._write_before)
        page.chosen.connect(self._choose)
        page.note.left.connect(self._end_writing)

    # -- what is shown -----------------------------------------------------------------------

    def take(self, bench: Workbench | None) -> None:
        """Work on another repertoire, or on none."""
        self._bench, self.spot, self._writing = bench, None, None
        self._findings = Findings(book=self._findings.book)
        self._joined.clear()
        self._flipped = None
        self.page.say("")

    def set_look(self, settings: Settings, look: Look) -> None:
        """Draw in another look."""
        self._look = look
        self.page.set_look(settings, look)
        self._turn()
        self._show()

    def forget(self) -> None:
        """The repertoire was edited from elsewhere: keep what is left of the way."""
        if self.spot is not None and self._bench is not None:
            self.spot = self.spot.still_there(self._bench.repertoire)

    def show_findings(self, findings: Findings) -> None:
        """What was worked out in the background has come."""
        self._letting_go.take(self._findings.entries)
        self._findings = findings
        self._show()

    def go(self, spot: Spot, *, animate: bool = False) -> None:
        """Go to a position."""
        self.page.keep_notes()
        self._writing = None
        self._take_offer_back()
        self.spot = spot
        self.page.say("")
        self._put_up(animate=animate)

    def go_to(self, node: Node) -> bool:
        """Go to a position by a way that leads there; whether there is one."""
        spot = None if self._bench is None else places.spot_of(self._bench.repertoire, node)
        if spot is not None:
            self.go(spot)
        return spot is not None

    def begin(self) -> None:
        """Go where the player was last, or to the beginning."""
        bench = self._bench
        if bench is None:
            return
        spot = None if self.spot is None else self.spot.still_there(bench.repertoire)
        spot = spot or places.first_spot(bench.repertoire)
        if spot is not None:
            self.go(spot)
        else:
            # An empty file: there has to be a beginning before there can be a move.
            bench.do(edits.AddSection(""))

    def open_entry(self, entry: AuditEntry) -> None:
        """Go where something is to be put right, with the remedy at hand."""
        bench = self._bench
        if bench is None:
            return
        edge = entry.edges[0] if entry.edges else None
        node = entry.node
        if entry.remedy is Remedy.CUT_LINE and edge is not None:
            node = edge.parent
        spot = places.spot_of(bench.repertoire, node)
        if spot is None:
            return
        if entry.remedy is Remedy.WRITE_REASON and edge is not None:
            spot = spot.on(edge)
        elif edge is not None and edge.parent is node:
            spot = replace(spot, chosen=edge)
        self.go(spot)
        self.page.say(f"{shown_text(entry.sentence, self._look.notation)} {_TO_DO[entry.remedy]}")
        if entry.remedy is Remedy.ADD_MOVE:
            self.page.asked.hide()  # it would say the same once more
            self.page.entry.setFocus()
        elif entry.remedy is Remedy.ADD_REPLY and entry.reply is not None:
            self._offer_move(entry.reply)
        elif entry.remedy is Remedy.WRITE_REASON:
            self.page.note.begin()
        else:
            self.page.take_keys()

    def _offer_move(self, move: chess.Move) -> None:
        """A move stands where moves are typed, and Enter plays it."""
        assert self.spot is not None
        san = self.spot.node.board().san(move)
        self._offered = shown_san(san, self._look.notation)
        self.page.entry.setText(self._offered)
        self.page.entry.setFocus()
        self.page.entry.selectAll()

    def _take_offer_back(self) -> None:
        """Elsewhere the move that was offered means nothing."""
        if self._offered and self.page.entry.text() == self._offered:
            self.page.entry.clear()
        self._offered = ""

    def _put_up(self, *, animate: bool) -> None:
        spot = self.spot
        if spot is None:
            return
        entry = spot.entry
        move = None if entry is None else entry.move
        self._turn()
        self.page.show_position(spot.node.board(), move, animate=animate)
        self._show_notes()
        self._show()

    def _show(self) -> None:
        """The words of the page, without touching what is being written."""
        spot, bench = self.spot, self._bench
        if spot is None or bench is None or bench.busy:
            return
        entry = spot.entry
        words = page_words(
            bench.repertoire,
            spot.root,
            spot.way,
            self._findings,
            self._look.notation,
            settled=entry in self._joined,
        )
        signs = "" if entry is None else ", ".join(meanings(entry.nags))
        chosen = spot.node.edges.index(spot.chosen) if spot.chosen in spot.node.edges else 0
        typed = self.page.entry.text()
        self.page.show_words(words, signs, chosen)
        self.page.entry.setText(typed)
        self.page.buttons["sign"].setEnabled(entry is not None)
        others = places.has_other_way(bench.repertoire, spot)
        self.page.buttons["other"].setEnabled(others)

    def _show_notes(self) -> None:
        entry, section = self._entry(), self._section()
        if entry is not None:
            before = "\n\n".join(entry.before)
            self.page.show_notes("\n\n".join(entry.comments), before)
        else:
            self.page.show_notes(None if section is None else "\n\n".join(section.intro), None)

    def _turn(self) -> None:
        flipped = self._look.flipped if self._flipped is None else self._flipped
        self.page.board.set_flipped(flipped)

    def _entry(self) -> Edge | None:
        return None if self.spot is None else self.spot.entry

    def _section(self) -> Section | None:
        """The one section that begins here, whose introduction the note is."""
        spot, bench = self.spot, self._bench
        if spot is None or bench is None or spot.way:
            return None
        found = [one for one in bench.repertoire.sections if one.root is spot.root]
        return found[0] if len(found) == 1 else None

    # -- moves -------------------------------------------------------------------------------

    def _play(self, move: chess.Move) -> None:
        spot, bench = self.spot, self._bench
        if spot is None or bench is None:
            return
        edge = spot.node.edge_for(move)
        if edge is not None:
            self.go(spot.on(edge), animate=True)
        else:
            self.page.keep_notes()
            bench.do(edits.AddMove(spot.node.key, move.uci()))
        self.page.entry.clear()

    def _play_typed(self, text: str) -> None:
        if self.spot is None:
            return
        try:
            move = parse_typed(self.spot.node.board(), text)
        except TypedMoveError as error:
            self.page.say(str(error))
            self.page.entry.selectAll()
            return
        self._play(move)
        self.page.take_keys()

    def _choose(self, row: int) -> None:
        if self.spot is not None and row < len(self.spot.node.edges):
            self.spot = replace(self.spot, chosen=self.spot.node.edges[row])

    def _chosen(self) -> Edge | None:
        spot = self.spot
        if spot is None or not spot.node.edges:
            return None
        return spot.chosen if spot.chosen in spot.node.edges else spot.node.edges[0]

    # -- commands ----------------------------------------------------------------------------

    def command(self, name: str) -> None:
        """Do what a key or button stands for."""
        bench = self._bench
        if bench is None or bench.busy:
            return
        if name in ("save", "right", "undo", "redo"):
            self.page.keep_notes()
            self.asked.emit(name)
        elif name == "leave":
            self.page.keep_notes()
            self.leaving.emit()
        elif name in ("back", "on", "start", "other"):
            self._walk(name)
        elif name in ("up", "down"):
            self._reorder(-1 if name == "up" else 1)
        elif name == "flip":
            shown = self._look.flipped if self._flipped is None else self._flipped
            self._flipped = not shown
            self._turn()
        elif name == "before":
            if self._entry() is not None:
                self.page.before.show()
                self.page.before.begin()
        elif name in _NOTES:
            if self.page.note.isVisibleTo(self.page):
                self.page.note.begin(_NOTES[name])
        else:
            {
                "main": self._make_main,
                "delete": self._delete,
                "sign": self._sign,
                "paste": self._paste,
            }[name]()

    def _walk(self, name: str) -> None:
        spot, bench = self.spot, self._bench
        if spot is None or bench is None:
            return
        edge = self._chosen()
        goal: Spot | None = None
        if name == "back":
            goal = spot.back() if spot.way else None
        elif name == "on":
            goal = None if edge is None else spot.on(edge)
        elif name == "start":
            goal = Spot(spot.root, (), spot.way[0]) if spot.way else None
        else:
            goal = places.other_way(bench.repertoire, spot)
        if goal is not None:
            had_keys = self.page.lines.hasFocus() or self.page.entry.hasFocus()
            self.go(goal, animate=name != "other")
            if had_keys:
                self.page.take_keys()

    def _reorder(self, step: int) -> None:
        edge = self._chosen()
        if edge is None or self._bench is None:
            return
        order = list(edge.parent.edges)
        at = order.index(edge)
        if not 0 <= at + step < len(order):
            return
        order[at], order[at + step] = order[at + step], order[at]
        names = tuple(one.move.uci() for one in order)
        self.spot = None if self.spot is None else replace(self.spot, chosen=edge)
        self._bench.do(edits.SetOrder(edge.parent.key, names))

    def _make_main(self) -> None:
        edge, bench = self._chosen(), self._bench
        if edge is None or bench is None:
            return
        self.spot = None if self.spot is None else replace(self.spot, chosen=edge)
        if edge.parent in bench.repertoire.claims:
            bench.do(edits.ResolveConflict(edge.parent.key, edge.move.uci()))
        elif edge.parent.edges[0] is edge:
            self.page.say(f"{self._san(edge)} is the main move already.")
        else:
            bench.do(edits.MakeMain(edge.parent.key, edge.move.uci()))

    def _delete(self) -> None:
        edge, bench = self._chosen(), self._bench
        if edge is None or bench is None:
            return
        edit = edits.DeleteMove(edge.parent.key, edge.move.uci())
        behind = positions_behind(edge)
        large = behind > _LARGE

        def told(result: Result) -> None:
            assert isinstance(result, Removed)
            if behind == 1 and not edge.comments and not edge.before:
                bench.do(edit)
                return
            sentence = removal_sentence(edge, result.positions, behind, self._look.notation)
            # Not in here: the worker waits until this has returned.
            QTimer.singleShot(0, self, lambda: self._confirm(edge, edit, sentence, large=large))

        bench.preview(edit, told, large=large)

    def _confirm(self, edge: Edge, edit: Edit, sentence: str, *, large: bool) -> None:
        if ask_to_delete(self.page.window(), self._san(edge), sentence) and self._bench:
            self._bench.do(edit, large=large)

    def _sign(self) -> None:
        edge, bench = self._entry(), self._bench
        if edge is None or bench is None:
            return
        dialog = SignsDialog(self.page.heading.text(), edge.nags, self.page.window())
        if dialog.exec() == QDialog.DialogCode.Accepted and dialog.nags() != edge.nags:
            bench.do(edits.SetNags(edge.parent.key, edge.move.uci(), dialog.nags()))

    def _paste(self) -> None:
        spot, bench = self.spot, self._bench
        if spot is None or bench is None:
            return
        here = f"after {self.page.heading.text()}" if spot.way else "at the beginning"
        text = QApplication.clipboard().text()
        dialog = PasteDialog(text, here, self.page.window())
        if dialog.exec() == QDialog.DialogCode.Accepted:
            bench.do(edits.Paste(spot.node.key, dialog.text.toPlainText()))

    def _san(self, edge: Edge) -> str:
        return shown_san(edge.san, self._look.notation)

    # -- notes -------------------------------------------------------------------------------

    def _write_note(self, text: str) -> None:
        bench, edge, section = self._bench, self._entry(), self._section()
        if bench is None:
            return
        paragraphs = split_paragraphs(text)
        edit: Edit
        if edge is not None:
            if paragraphs == edge.comments:
                return
            edit = edits.SetComments(edge.parent.key, edge.move.uci(), paragraphs)
        elif section is not None:
            if paragraphs == section.intro:
                return
            edit = edits.SetIntro(bench.repertoire.sections.index(section), paragraphs)
        else:
            return
        before, self._writing = self._writing, edit
        bench.do(edit, instead=before)

    def _end_writing(self) -> None:
        self._writing = None

    def _write_before(self, text: str) -> None:
        bench, edge = self._bench, self._entry()
        paragraphs = split_paragraphs(text)
        if bench is not None and edge is not None and paragraphs != edge.before:
            bench.do(edits.SetBefore(edge.parent.key, edge.move.uci(), paragraphs))

    # -- what came of it ---------------------------------------------------------------------

    def step_taken(self, step: Step) -> None:
        """Go where the step happened and tell what it did."""
        bench = self._bench
        if bench is None:
            return
        near = None if self.spot is None else self.spot.still_there(bench.repertoire)
        if step.kind is StepKind.DONE and _is_note(step.edit):
            self._show()
            return
        self._writing = None
        result = step.result
        if isinstance(result, Added) and near is not None and result.edge.parent is near.node:
            spot: Spot | None = near.on(result.edge)
        else:
            spot = places.spot_of_edit(bench.repertoire, step.edit, near)
            if step.kind is StepKind.REDONE and isinstance(step.edit, edits.AddMove):
                spot = spot.on(spot.chosen) if spot is not None and spot.chosen else spot
        if spot is None:
            self.spot = None
            self.leaving.emit()
            return
        self.spot = spot
        if isinstance(result, Added) and result.joined is not None:
            self._joined.add(result.edge)
        self._put_up(animate=isinstance(result, Added))
        self.page.say(told(step, self._look.notation))


_NOTES = {"write": NoteKind.REASON, "plan": NoteKind.PLAN, "trick": NoteKind.TRICK}


def _is_note(edit: Edit) -> bool:
    return isinstance(edit, edits.SetComments | edits.SetBefore | edits.SetIntro)
