"""The workshop on one repertoire: edits with undo and redo without limit, journal and saving."""

from __future__ import annotations

import contextlib
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from trainer.errors import StemlineError
from trainer.repertoire.files import FileFingerprint, decode, read_bytes
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reader import LoadedRepertoire, read_repertoire_text
from trainer.repertoire.workshop import codec
from trainer.repertoire.workshop.edits import Edit
from trainer.repertoire.workshop.journal import (
    Contents,
    Header,
    Journal,
    JournalError,
    Line,
    read_journal,
)
from trainer.repertoire.workshop.results import Result
from trainer.repertoire.workshop.text import EditError
from trainer.repertoire.workshop.transaction import Change, Transaction
from trainer.repertoire.writer import repertoire_pgn, save_repertoire


@dataclass(frozen=True, eq=False)
class _Done:
    """An edit that was made, and what it changed."""

    edit: Edit
    change: Change


class Editor:
    """Makes edits on a loaded repertoire; keeps what is needed to undo all of them."""

    def __init__(self, loaded: LoadedRepertoire, journal: Journal | None = None) -> None:
        """Edit `loaded`; `journal`, begun here at the first edit, keeps what is not saved."""
        self.loaded = loaded
        self._journal = journal
        self._journal_open = False
        #: Whether the file of the journal was written here: another one is not ours to replace.
        self._journal_ours = False
        self._done: list[_Done] = []
        self._undone: list[_Done] = []
        #: What was on top of `_done` when the file was saved.
        self._saved: _Done | None = None
        #: Every line of the journal since the file was read, over all savings.
        self._trail: list[Line] = []
        #: The text of the file as it was read, once it is being replaced.
        self._base: bytes | None = None

    # -- asking ------------------------------------------------------------------------------

    @property
    def repertoire(self) -> Repertoire:
        """The graph being edited."""
        return self.loaded.repertoire

    @property
    def changed(self) -> bool:
        """Whether the repertoire differs from the file by edits."""
        return (self._done[-1] if self._done else None) is not self._saved

    @property
    def undoable(self) -> Edit | None:
        """What `undo` would take back."""
        return self._done[-1].edit if self._done else None

    @property
    def redoable(self) -> Edit | None:
        """What `redo` would make again."""
        return self._undone[-1].edit if self._undone else None

    @property
    def has_journal(self) -> bool:
        """Whether what is not saved outlasts a crash."""
        return self._journal is not None

    @property
    def undo_size(self) -> int:
        """Of how many small steps consists what `undo` would take back."""
        return len(self._done[-1].change) if self._done else 0

    @property
    def redo_size(self) -> int:
        """Of how many small steps consists what `redo` would make again."""
        return len(self._undone[-1].change) if self._undone else 0

    # -- editing -----------------------------------------------------------------------------

    def do(self, edit: Edit) -> Result:
        """Make an edit. One that changes nothing is not kept.

        Raises `EditError` (and `KeyCollisionError`) with nothing changed where it does not fit,
        and `JournalError` with the edit taken back where the journal cannot be written.
        """
        result, change = _apply(self.repertoire, edit)
        if change:
            try:
                self._note({"do": codec.encode(edit)})
            except BaseException:
                change.undo()
                raise
            self._done.append(_Done(edit, change))
            self._undone.clear()
        return result

    def undo(self) -> Edit | None:
        """Take back the last edit and return it; None where there is none.

        Raises `JournalError`, with nothing changed.
        """
        if not self._done:
            return None
        self._note({"undo": 1})
        last = self._done.pop()
        last.change.undo()
        self._undone.append(last)
        return last.edit

    def redo(self) -> Edit | None:
        """Make the edit again that was undone last and return it; None where there is none.

        Raises `JournalError`, with nothing changed.
        """
        if not self._undone:
            return None
        self._note({"redo": 1})
        last = self._undone.pop()
        last.change.redo()
        self._done.append(last)
        return last.edit

    # -- saving ------------------------------------------------------------------------------

    def save(self, path: Path | None = None) -> FileFingerprint:
        """Write the repertoire to its file, or to another `path`, and empty the journal.

        Edits can still be undone afterwards. Raises `FileChangedError` where another program
        changed the file, `RepertoireFileError` where it cannot be written, `JournalError`.
        """
        own = self.loaded.path
        target = path or own
        if target is None:
            raise EditError("This repertoire has no file yet; choose where to save it.")
        self._keep_base()
        expected = self.loaded.fingerprint if target == own else None
        fingerprint = save_repertoire(self.loaded, target, expected=expected)
        newline = "\r\n" if self.loaded.newline == "\r\n" else "\n"
        self.loaded = replace(
            self.loaded,
            path=target,
            fingerprint=fingerprint,
            encoding="utf-8",
            newline=newline,
            side_guessed=False,
        )
        self._mark_saved()
        self._trail.append({"saved": 1})
        self._journal_open = False
        if self._journal is not None and self._journal_ours:
            self._journal.begin(self._header())
        return fingerprint

    @property
    def journal_begun(self) -> bool:
        """Whether the next edit need not begin the journal first."""
        return self._journal is None or self._journal_open

    def prepare_journal(self) -> None:
        """Begin the journal now, so that the next edit need not wait for the disk.

        One that somebody else left stays until there is an edit. Raises `JournalError`.
        """
        journal = self._journal
        if journal is None or self._journal_open:
            return
        if self._journal_ours or not journal.path.exists():
            self._begin_journal(journal)

    def flush_due(self, now: float) -> None:
        """Send the journal to the disk where two seconds went by. Raises `JournalError`."""
        if self._journal is not None:
            self._journal.flush_due(now)

    def stop_journal(self) -> None:
        """Go on without a journal, where it cannot be written; a crash then loses edits."""
        if self._journal is not None:
            with contextlib.suppress(JournalError):
                self._journal.close()
        self._journal = None

    def move_journal(self, journal: Journal) -> None:
        """Go on in another journal, because the file was saved under another name.

        Raises `JournalError`.
        """
        before, ours = self._journal, self._journal_ours
        self._journal, self._journal_open, self._journal_ours = journal, False, False
        if before is not None:
            before.close()
            if ours:
                before.path.unlink(missing_ok=True)

    def close(self, *, forget: bool = False) -> None:
        """Close the journal; with `forget`, what is not saved is given up.

        Raises `JournalError`.
        """
        if self._journal is None:
            return
        self._journal.close()
        if self._journal_ours and (forget or not self.changed):
            self._journal.path.unlink(missing_ok=True)

    def _mark_saved(self) -> None:
        self._saved = self._done[-1] if self._done else None

    # -- the journal -------------------------------------------------------------------------

    def _header(self, base: bytes | None = None) -> Header:
        return Header(self.loaded.fingerprint, self.repertoire.side, base)

    def _note(self, line: Line) -> None:
        if self._journal is not None:
            if not self._journal_open:
                self._begin_journal(self._journal)
            self._journal.append(line)
        self._trail.append(line)

    def _begin_journal(self, journal: Journal) -> None:
        """Begin the journal, after a saving with all that was done since the file was read.

        The file as it was saved does not say how often what is in it was edited, and reading it
        may place moves otherwise, so edits made after a saving are kept with those before it and
        with the text that all of them began with.
        """
        before = read_journal(journal.path)
        if before.lines or before.problem is not None:
            # Nobody asked for them; they are not ours to drop.
            _set_aside(journal.path)
        if self._base is None and (self._trail or self.loaded.fingerprint is None):
            self._base = _bytes_of(self.repertoire, self._done)
        journal.begin(self._header(self._base), self._trail)
        self._journal_open = self._journal_ours = True

    def _keep_base(self) -> None:
        """Keep the file that was read before it is replaced, if it is still that one."""
        path, fingerprint = self.loaded.path, self.loaded.fingerprint
        if self._base is not None or path is None or fingerprint is None:
            return
        try:
            data, found = read_bytes(path)
        except StemlineError:
            return
        if found.same_content(fingerprint):
            self._base = data

    # -- recovery ----------------------------------------------------------------------------

    def _replay(self, lines: list[Line]) -> str | None:
        """Make the edits of a journal; the reason where one of them cannot be made."""
        for number, line in enumerate(lines, start=1):
            try:
                self._replay_one(line)
            except StemlineError as error:
                return f"Edit {number} of the journal cannot be made again: {error}"
            self._trail.append(line)
        return None

    def _replay_one(self, line: dict[str, Any]) -> None:
        if "do" in line:
            edit = codec.decode(line["do"])
            _, change = _apply(self.repertoire, edit)
            self._done.append(_Done(edit, change))
            self._undone.clear()
        elif "undo" in line and self._done:
            last = self._done.pop()
            last.change.undo()
            self._undone.append(last)
        elif "redo" in line and self._undone:
            last = self._undone.pop()
            last.change.redo()
            self._done.append(last)
        elif "saved" in line:
            self._mark_saved()
        else:
            raise EditError("it does not fit what was done before.")


@dataclass(frozen=True)
class Recovery:
    """An editor that goes on where the journal ends.

    `edits` is how many unsaved edits, undoings and redoings were brought back. `problem` is None,
    or one sentence that says what could not be; the journal is then kept as `kept`.
    """

    editor: Editor
    edits: int
    problem: str | None = None
    kept: Path | None = None


def waiting_edits(path: Path) -> int:
    """How many unsaved edits the journal at `path` holds. Raises `JournalError`."""
    return _count(read_journal(path).lines)


def recover(path: Path, loaded: LoadedRepertoire) -> Recovery:
    """Bring back the edits in the journal at `path`, on the file that was just read.

    The repertoire in `loaded` is changed, or, where the file was saved between edits, another
    one is made: use that of the editor. Raises `JournalError` where the journal cannot be read.
    """
    contents = read_journal(path)
    editor = Editor(loaded, Journal(path))
    header = contents.header
    if header is None or not contents.lines:
        kept = _set_aside(path) if contents.problem is not None else None
        return Recovery(editor, 0, contents.problem, kept)
    reason = _misfit(header, loaded, path)
    if reason is not None:
        if _was_saved(contents, loaded):
            path.unlink(missing_ok=True)
            return Recovery(editor, 0)
        return Recovery(editor, 0, reason, _set_aside(path))
    if header.base is not None:
        editor.loaded = replace(loaded, repertoire=_read(header.base, header).repertoire)
        editor._base = header.base
    problem = editor._replay(contents.lines)
    edits = _count(editor._trail)
    if problem is None and contents.problem is None:
        assert editor._journal is not None
        editor._journal.resume(contents.sound)
        editor._journal_open = editor._journal_ours = True
        return Recovery(editor, edits)
    kept = _set_aside(path)
    assert editor._journal is not None
    editor._journal.begin(editor._header(header.base), editor._trail)
    editor._journal_open = editor._journal_ours = True
    return Recovery(editor, edits, problem or contents.problem, kept)


def _apply(repertoire: Repertoire, edit: Edit) -> tuple[Result, Change]:
    transaction = Transaction(repertoire)
    try:
        result = edit.apply(transaction)
    except BaseException:
        transaction.roll_back()
        raise
    return result, transaction.finish()


def _bytes_of(repertoire: Repertoire, done: list[_Done]) -> bytes:
    """The file as it was before all edits."""
    for last in reversed(done):
        last.change.undo()
    try:
        return repertoire_pgn(repertoire).encode("utf-8", "replace")
    finally:
        for first in done:
            first.change.redo()


def _misfit(header: Header, loaded: LoadedRepertoire, path: Path) -> str | None:
    name = loaded.path or "the repertoire"
    if header.fingerprint is None or loaded.fingerprint is None:
        fits = header.fingerprint is loaded.fingerprint
    else:
        fits = header.fingerprint.same_content(loaded.fingerprint)
    if not fits:
        return (
            f"The unsaved edits in {path} cannot be brought back, because {name} was changed "
            "since they were made."
        )
    if header.side != loaded.repertoire.side:
        return (
            f"The unsaved edits in {path} cannot be brought back, because {name} was edited as a "
            "repertoire for the other side."
        )
    return None


def _was_saved(contents: Contents, loaded: LoadedRepertoire) -> bool:
    """Whether the file is what the edits made of it: only the journal was not emptied any more."""
    header, file = contents.header, loaded.path
    if header is None or header.fingerprint is None or file is None:
        return False
    try:
        begun = header.base
        if begun is None:
            begun, found = read_bytes(file.with_name(f"{file.name}.bak"))
            if not found.same_content(header.fingerprint):
                return False
        editor = Editor(_read(begun, header))
        if editor._replay(contents.lines) is not None:
            return False
        data = read_bytes(file)[0]
    except StemlineError:
        return False
    text = repertoire_pgn(editor.repertoire).encode("utf-8", "replace")
    return data.replace(b"\r\n", b"\n") == text


def _read(data: bytes, header: Header) -> LoadedRepertoire:
    return read_repertoire_text(decode(data, "the repertoire").text, side=header.side)


def _count(lines: list[Line]) -> int:
    """The lines behind the last saving."""
    count = 0
    for line in lines:
        count = 0 if "saved" in line else count + 1
    return count


def _set_aside(path: Path) -> Path | None:
    """Keep a journal that could not be used in full beside the new one."""
    for number in range(1, 1000):
        kept = path.with_name(f"{path.name}.kept-{number}")
        if not kept.exists():
            break
    try:
        return path.replace(kept)
    except OSError:
        return None
