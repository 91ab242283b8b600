"""A lesson made by the command line, opened from its file in a real browser, stepped through."""

from __future__ import annotations

from pathlib import Path

import chess

from tests.browser import browser
from tests.process import RunStemline
from trainer.resources import repertoire_path

PLACEMENT = "document.querySelector('.lines .board').dataset.placement"
SAID = "document.querySelector('.said').textContent"
CURRENT = "document.querySelector('.move[aria-current]')?.textContent ?? ''"


def placement_after(sans: list[str]) -> str:
    board = chess.Board()
    for san in sans:
        board.push_san(san)
    return board.board_fen()


def test_a_lesson_steps_through_its_lines(stemline: RunStemline, tmp_path: Path) -> None:
    out = tmp_path / "lesson.html"
    source = repertoire_path("kings-indian-attack.pgn")
    done = stemline("handout", source, "--section", "1", "--coach", "Ida <Fenwick>", "--out", out)
    assert done.returncode == 0, done.stderr
    with browser() as page:
        page.open(out.as_uri())
        assert page.value("document.title") == "The French set-up: the closed centre"
        assert "Ida <Fenwick>" in page.value("document.body.innerText")
        assert page.value(PLACEMENT) == placement_after([])
        # 32 pieces and the board stand there, and the move keys are enabled.
        assert page.value("document.querySelectorAll('.lines .board use').length") == 33
        page.click(".keys button[data-act=next]")
        assert page.value(PLACEMENT) == placement_after(["Nf3"])
        assert page.value(SAID).startswith("1 Nf3: We keep the e-pawn at home")
        page.press("ArrowRight")
        assert page.value(PLACEMENT) == placement_after(["Nf3", "d5"])
        page.press("ArrowDown")
        assert page.value(PLACEMENT) == placement_after(["Nf3", "e6"])
        page.press("ArrowUp")
        page.press("ArrowLeft")
        assert page.value(PLACEMENT) == placement_after(["Nf3"])
        page.press("End")
        assert page.value("document.querySelector('[data-act=next]').ariaDisabled") == "true"
        assert page.value(CURRENT)
        page.press("Home")
        assert page.value(PLACEMENT) == placement_after([])
        assert page.value("document.querySelector('[data-act=back]').ariaDisabled") == "true"
        # The board turns, and a move that is clicked is shown.
        page.click(".keys button[data-act=turn]")
        turned = "document.querySelector('.lines .board use').getAttribute('href')"
        assert page.value(turned) == "#ground-turned"
        page.click(".move[data-step='2']")
        assert page.value("document.querySelector('.move[aria-current]').dataset.step") == "2"
        assert page.value(f"{SAID}").startswith("2 g3")
        # By keys alone: Tab reaches a move, Enter shows it.
        page.press("Tab")
        page.press("Enter")
        assert page.value("document.activeElement === document.querySelector('[aria-current]')")
        label = page.value("document.querySelector('.lines .board').getAttribute('aria-label')")
        assert label.startswith("White: K")
        # Nothing is cut at the width of a telephone.
        page.ask(
            "Emulation.setDeviceMetricsOverride",
            {"width": 380, "height": 700, "deviceScaleFactor": 1, "mobile": False},
        )
        assert page.value("document.documentElement.scrollWidth <= 380") is True
        assert page.faults() == []


def test_questions_keep_their_answers_until_they_are_opened(
    stemline: RunStemline, tmp_path: Path
) -> None:
    out = tmp_path / "moments.html"
    games = repertoire_path("demo-games.pgn")
    done = stemline(
        "handout", games, "--game", "1", "--moments", "12w", "--questions", "--out", out
    )
    assert done.returncode == 0, done.stderr
    with browser() as page:
        page.open(out.as_uri())
        seen = "document.querySelector('.question').innerText"
        assert "find the move" in page.value(seen)
        assert "Na4" not in page.value(seen)
        page.click(".question details:nth-of-type(2) summary")
        assert "The knight on c5 moves." in page.value(seen)
        page.click(".question details:last-of-type summary")
        assert "12 Na4" in page.value(seen)
        assert page.faults() == []
