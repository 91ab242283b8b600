"""Tricks of the position on the board: whether they hold, noted at the move, asked as moments."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, QTimer

if TYPE_CHECKING:
    from trainer.lesson.tricks import Trick
    from trainer.repertoire.graph import Edge
    from trainer.ui.lesson.engine_side import EngineSide
    from trainer.ui.lesson.facts import PositionFacts
    from trainer.ui.lesson.structures_panel import StructuresPanel
    from trainer.ui.tasks import TaskControl

#: How many questions are asked at the most.
MOST_QUESTIONS = 12
#: Positions of a structure in which tricks are looked for, a few hundredths of a second each.
_MOST_SEARCHED = 300
#: Milliseconds that a position is looked at before the engine is asked of its tricks.
_BEFORE_ASKING = 400


class StructureTricks(QObject):
    """What the panel does with tricks, with the engine's word where there is an engine."""

    def __init__(self, panel: StructuresPanel, engine: EngineSide | None) -> None:
        super().__init__(panel)
        self._panel = panel
        self._engine = engine
        self._judging = QTimer(self)
        self._judging.setSingleShot(True)
        self._judging.setInterval(_BEFORE_ASKING)
        self._judging.timeout.connect(self._judge_what_is_seen)
        panel.page.judge_wanted.connect(self._judge)
        panel.page.tricks_wanted.connect(self._ask)
        panel.page.note_wanted.connect(self._note)

    def look_at(self, facts: PositionFacts) -> None:
        """Another position stands on the board."""
        self._offer_note(facts)
        # Not for every position that is only passed on the way.
        self._judging.start()

    def confirm(self, tricks: list[Trick], done: Callable[[list[Trick]], None]) -> None:
        """Ask the engine of tricks and tell them with its word, where there is an engine."""
        if self._engine is None or not any(one.answer for one in tricks):
            done(tricks)
            return
        judged = list(tricks)

        def told(now: list[Trick]) -> None:
            judged[:] = now

        self._engine.judge(
            tricks,
            told=told,
            done=done,
            failed=lambda _sentence: done(list(judged)),
            beside=True,
        )

    # -- whether they hold -----------------------------------------------------------------------

    def _judge(self, *, asked: bool = True) -> None:
        """Ask the engine whether the tricks on the board hold.

        That happens by itself where there is an engine, and in silence where there is none;
        `asked` tells that the player wants to know.
        """
        panel, facts = self._panel, self._panel.facts
        if facts is None or not any(one.answer and one.confirmed is None for one in facts.tricks):
            return
        if self._engine is None:
            if asked:
                panel.said.emit("There is no engine to ask.")
            return

        def told(tricks: list[Trick]) -> None:
            if facts is panel.facts or (panel.facts and facts.board == panel.facts.board):
                panel.facts = replace(facts, tricks=tuple(tricks))
                panel.page.show_tricks(tricks)
                self._offer_note(panel.facts)

        self._engine.judge(
            facts.tricks,
            told=told,
            failed=panel.said.emit if asked else _in_silence,
            background=not asked,
        )

    def _judge_what_is_seen(self) -> None:
        if self._panel.page.isVisible():
            self._judge(asked=False)

    # -- noting ----------------------------------------------------------------------------------

    def _offer_note(self, facts: PositionFacts) -> None:
        self._panel.page.offer_note(bool(self._notes_to_add(facts)))

    def _entry(self) -> Edge | None:
        """The player's move that leads to the position on the board."""
        shown, structures = self._panel.shown, self._panel.structures
        if shown is None or structures is None:
            return None
        entries = shown.node.entries
        return next((edge for edge in entries if edge.parent.turn == structures.side), None)

    def _notes_to_add(self, facts: PositionFacts | None) -> list[str]:
        """The player's tricks on the board, as notes that the move does not have yet."""
        from trainer.lesson.trick_drill import note_of

        edge = self._entry()
        if edge is None or facts is None:
            return []
        own = [
            one
            for one in facts.tricks
            if one.taking and one.side == edge.parent.turn and one.confirmed is not False
        ]
        return [note for one in own if (note := note_of(one)) not in edge.comments]

    def _note(self) -> None:
        edge, notes = self._entry(), self._notes_to_add(self._panel.facts)
        if edge is not None and notes:
            self._panel.note_wanted.emit(edge, notes)
            self._panel.said.emit("Noted at the move that leads to this position.")

    # -- asking ----------------------------------------------------------------------------------

    def _ask(self) -> None:
        """Ask for the tricks of the positions of this structure, as moments."""
        panel = self._panel
        structures, shown = panel.structures, panel.shown
        if structures is None or shown is None:
            return
        panel.flush()

        def find(control: TaskControl) -> list[Trick]:
            from trainer.lesson.trick_drill import tricks_of

            nodes = shown.share.nodes[:_MOST_SEARCHED]
            side = structures.side
            return tricks_of(nodes, side, most=MOST_QUESTIONS, cancelled=control.cancelled)

        panel.said.emit("Looking for tricks …")
        panel.look(find, lambda tricks: self.confirm(tricks, self._found))

    def _found(self, tricks: list[Trick]) -> None:
        from trainer.lesson.moments import MomentRun
        from trainer.lesson.trick_drill import trick_moment
        from trainer.ui.lesson.askings import MomentAsking

        moments = [trick_moment(one) for one in tricks if one.confirmed is not False]
        if moments:
            self._panel.said.emit("")
            self._panel.ask_wanted.emit(MomentAsking(MomentRun(moments)))
        else:
            self._panel.said.emit("No trick of yours stands in the positions of this structure.")


def _in_silence(_sentence: str) -> None:
    return
