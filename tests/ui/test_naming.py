"""Names that were typed without an ending."""

from __future__ import annotations

from pathlib import Path

import pytest

from trainer.ui.naming import NameTakenError, with_ending


def test_an_ending_is_added_where_there_is_none(tmp_path: Path) -> None:
    assert with_ending(str(tmp_path / "mine"), ".pgn") == tmp_path / "mine.pgn"
    assert with_ending(str(tmp_path / "mine.txt"), ".pgn") == tmp_path / "mine.txt"
    formats = (".svg", ".pdf")
    assert with_ending(str(tmp_path / "v1.2"), ".svg", formats) == tmp_path / "v1.2.svg"
    assert with_ending(str(tmp_path / "mine.PDF"), ".svg", formats) == tmp_path / "mine.PDF"


def test_a_file_nobody_was_asked_about_is_not_written_over(tmp_path: Path) -> None:
    taken = tmp_path / "mine.pgn"
    taken.write_text("kept", encoding="utf-8")
    with pytest.raises(NameTakenError, match=r"mine\.pgn already"):
        with_ending(str(tmp_path / "mine"), ".pgn")
    # Typed in full, the file dialog has asked.
    assert with_ending(str(taken), ".pgn") == taken
