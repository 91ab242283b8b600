"""What the window's menu does with sections and with other repertoire files."""

from __future__ import annotations

from typing import TYPE_CHECKING

from PySide6.QtWidgets import QWidget

from trainer.ui.sections.dialog import SectionsDialog
from trainer.ui.sections.merging import Merger
from trainer.ui.workshop.report import told

if TYPE_CHECKING:
    from collections.abc import Callable

    from trainer.repertoire.workshop.edits import Edit
    from trainer.storage.settings import Settings
    from trainer.ui.look import Look
    from trainer.ui.tasks import TaskRunner
    from trainer.ui.workshop.desk import Desk
    from trainer.ui.workshop.workbench import Step


def open_sections(
    window: QWidget, desk: Desk, runner: TaskRunner, settings: Settings, look: Look
) -> None:
    """Show the sections of the open repertoire until the player closes them."""
    if desk.bench is None:
        return
    desk.page.keep_notes()
    dialog = SectionsDialog(desk.bench, runner, settings, look, window)
    dialog.exec()
    dialog.deleteLater()


def merge_file(
    window: QWidget,
    desk: Desk,
    runner: TaskRunner,
    look: Look,
    say: Callable[[str], None],
) -> Merger | None:
    """Let the player choose a file and merge it; `say` gets what is to be said of it."""
    if desk.bench is None:
        return None
    desk.page.keep_notes()
    merger = Merger(window, desk.bench, runner, look.notation)
    merger.said.connect(say)
    merger.done_with.connect(lambda edit: tell_of(desk, edit, look, say))
    merger.ended.connect(merger.deleteLater)
    merger.ask()
    return merger


def tell_of(desk: Desk, edit: Edit, look: Look, say: Callable[[str], None]) -> None:
    """Make an edit, and say what came of it once it is made."""
    bench = desk.bench
    if bench is None:
        return

    def stepped(step: Step) -> None:
        if step.edit is edit:
            bench.stepped.disconnect(stepped)
            say(f"{told(step, look.notation)} Ctrl+Z takes it back.")

    bench.stepped.connect(stepped)
    bench.do(edit)
