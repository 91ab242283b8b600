"""Handouts: every form written and read back with a reader of its own."""

from __future__ import annotations

import datetime
import io
import re
import shutil
import subprocess
from html.parser import HTMLParser
from pathlib import Path

import cairosvg
import chess
import chess.pgn
import numpy as np
import pytest

from trainer.errors import RepertoireFileError, StemlineError, UsageError
from trainer.lesson.build import (
    chosen_sections,
    lesson_of_game,
    lesson_of_sections,
    lesson_of_structure,
    section_lines,
    since_text,
)
from trainer.lesson.command import HandoutRequest, make_handout
from trainer.lesson.game import LessonGame, read_game
from trainer.lesson.handout.html import described, lesson_html
from trainer.lesson.handout.model import (
    Diagram,
    HandoutError,
    Heading,
    Lesson,
    Lines,
    Paper,
    Question,
    Step,
    Text,
)
from trainer.lesson.handout.movetext import Kind, words
from trainer.lesson.handout.paint import DiagramPainter, load_cairo
from trainer.lesson.handout.pdf import lesson_pdf
from trainer.lesson.handout.plain import lesson_epd, lesson_pgn
from trainer.lesson.handout.type import Run, Style, Typesetter
from trainer.lesson.handout.writing import write_lesson
from trainer.lesson.moments import moment_of
from trainer.lesson.narrate import narrate
from trainer.lesson.shares import structure_shares
from trainer.lesson.structure_file import load_structures
from trainer.repertoire.arrays import RepertoireArrays
from trainer.repertoire.graph import Repertoire
from trainer.repertoire.reader import read_repertoire, read_repertoire_text
from trainer.resources import repertoire_path

DAY = datetime.date(2026, 11, 25)
BOOK = load_structures()


def demo() -> Repertoire:
    return read_repertoire(repertoire_path("kings-indian-attack.pgn")).repertoire


def small_lesson() -> Lesson:
    board = chess.Board()
    lines = Lines(
        board,
        (
            Step(chess.Move.from_uci("e2e4"), "e4", None, (1,), (), ("Takes the centre.",)),
            Step(chess.Move.from_uci("e7e5"), "e5", 0),
            Step(chess.Move.from_uci("g1f3"), "Nf3", 1),
            Step(chess.Move.from_uci("c7c5"), "c5", 0, (), (), ("<b>Sharp</b> & {open}.",)),
            Step(chess.Move.from_uci("g1f3"), "Nf3", 3),
        ),
    )
    mate = chess.Board("6k1/5ppp/8/8/8/8/5PPP/3R2K1 w - - 0 30")
    question = Question(
        mate,
        "White to move: find the move.",
        (chess.Move.from_uci("d1d8"),),
        ("There is a mate.",),
        ((chess.Move.from_uci("g2g3"), "nothing is threatened."),),
        "The king has no flight square.",
    )
    diagram = Diagram(mate, 'The "back" rank.', ((chess.D1, chess.D8), (chess.G2, chess.G3)))
    items = (Text("First <words>."), Heading("Lines"), lines, diagram, question)
    return Lesson("A lesson & more", items, "Ida Fenwick", DAY)


def test_words_stand_in_the_order_of_a_book() -> None:
    (lines,) = [item for item in small_lesson().items if isinstance(item, Lines)]
    text = " ".join(word.text for word in words(lines))
    assert text == ("1 e4! Takes the centre. 1…e5 ( 1…c5 <b>Sharp</b> & {open}. 2 Nf3 ) 2 Nf3")
    assert [word.depth for word in words(lines) if word.kind is Kind.MOVE] == [0, 0, 1, 1, 0]


def test_pgn_is_read_back_with_notes_signs_and_variations() -> None:
    text = lesson_pgn(small_lesson())
    stream = io.StringIO(text)
    first, second = chess.pgn.read_game(stream), chess.pgn.read_game(stream)
    assert first is not None
    assert second is not None
    assert not first.errors
    assert not second.errors
    assert first.headers["Annotator"] == "Ida Fenwick"
    assert first.headers["Date"] == "2026.11.25"
    assert first.comment == "First <words>."
    move = first.variation(0)
    assert move.nags == {1}
    assert move.comment == "Takes the centre."
    assert [one.san() for one in move.variations] == ["e5", "c5"]
    assert move.variation(1).comment == "<b>Sharp</b> & (open)."
    assert second.board().fen().startswith("6k1/5ppp")
    assert [(one.san(), one.nags) for one in second.variations] == [("Rd8#", set()), ("g3", {2})]


def test_epd_is_read_back_with_its_best_move() -> None:
    lines = lesson_epd(small_lesson()).splitlines()
    assert len(lines) == 2
    board, operations = chess.Board.from_epd(lines[1])
    assert board.board_fen() == "6k1/5ppp/8/8/8/8/5PPP/3R2K1"
    assert operations["bm"] == [chess.Move.from_uci("d1d8")]
    assert chess.Board.from_epd(lines[0])[1]["c0"] == "The 'back' rank."


class Page(HTMLParser):
    """What stands in a page: text, identifiers, references, tags that are open."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: list[str] = []
        self.references: set[str] = set()
        self.addresses: list[str] = []
        self.words: list[str] = []
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.add(tag)
        values = dict(attrs)
        if values.get("id"):
            self.ids.append(str(values["id"]))
        for name in ("href", "src", "action"):
            value = values.get(name)
            if value and value.startswith("#"):
                self.references.add(value[1:])
            elif value:
                self.addresses.append(value)
        if tag not in ("meta", "br", "link"):
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        self.open.pop()

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] not in ("style", "script"):
            self.words.append(data)


def test_the_page_stands_alone_and_shows_text_as_text() -> None:
    text = lesson_html(small_lesson())
    page = Page(text)
    assert not page.open
    assert page.addresses == []
    assert "http" not in text.replace("http://www.w3.org/2000/svg", "").replace("http-equiv", "")
    assert len(set(page.ids)) == len(page.ids)
    assert page.references <= set(page.ids)
    assert "b" not in page.tags  # "<b>Sharp</b>" in a note is text
    said = " ".join("".join(page.words).split())
    assert "<b>Sharp</b> & {open}." in said
    assert "25 November 2026" in said
    assert "Answer 1" in said


def test_a_note_cannot_end_the_data_of_the_page() -> None:
    board = chess.Board()
    step = Step(chess.Move.from_uci("e2e4"), "e4", None, comments=("</script><p id=evil>",))
    page = Page(lesson_html(Lesson("L", (Lines(board, (step,)),))))
    assert "evil" not in page.ids
    assert not page.open


def test_positions_are_told_in_words() -> None:
    board = chess.Board("6k1/5p2/8/8/8/8/8/3R2K1 w - - 0 1")
    assert described(board) == "White: Kg1, Rd1. Black: Kg8, pawns f7. White to move."


@pytest.mark.parametrize("paper", list(Paper))
def test_pages_are_numbered_and_answers_stand_last(tmp_path: Path, paper: Paper) -> None:
    path = tmp_path / "lesson.pdf"
    path.write_bytes(lesson_pdf(small_lesson(), paper))
    text = pdf_text(path)
    pages = text.split("\f")
    assert "1/3" in pages[0].replace(" ", "")
    assert "Questions" in pages[1]
    assert "Rd8#" not in pages[1]
    assert "Answers" in pages[2]
    assert "30 Rd8#" in pages[2]
    assert "The king has no flight square." in pages[2]
    assert all("Ida Fenwick, 25 November 2026" in page for page in pages[:3])


def pdf_text(path: Path) -> str:
    """The text of a PDF as another program reads it, a form feed after each page."""
    if shutil.which("pdftotext"):
        command = ["pdftotext", "-layout", str(path), "-"]
    else:
        gs = shutil.which("gs")
        assert gs, "reading PDF files back needs poppler-utils or ghostscript"
        command = [gs, "-q", "-dNOPAUSE", "-dBATCH", "-sDEVICE=txtwrite", "-o", "-", str(path)]
    done = subprocess.run(command, capture_output=True, check=True, timeout=60)
    return done.stdout.decode("utf-8", "replace")


def test_lines_of_text_keep_to_the_width() -> None:
    cairo = load_cairo()
    surface = cairo.ImageSurface(cairo.FORMAT_RGB24, 10, 10)
    setter = Typesetter(cairo, cairo.Context(surface))
    plain, bold = Style(10.0), Style(10.0, bold=True)
    runs = [
        Run("10 h4", bold),
        Run(" (", plain),
        Run("10…Ne8", plain),
        Run(" 11 h5 and more words", plain),
        Run(")", plain),
        Run(" " + "x" * 80, plain),
    ] * 4
    for width in (60.0, 97.0, 150.0):
        lines = setter.lines(runs, width)
        for line in lines:
            assert sum(map(setter.width, line)) <= width + 0.01
        together = "".join(run.text for line in lines for run in line).replace(" ", "")
        assert together == "".join(run.text for run in runs).replace(" ", "")


def test_a_character_that_the_face_lacks_is_taken_from_another() -> None:
    cairo = load_cairo()
    surface = cairo.ImageSurface(cairo.FORMAT_RGB24, 10, 10)
    setter = Typesetter(cairo, cairo.Context(surface))
    assert setter.width(Run("♘f3 ⩲", Style(10.0))) > setter.width(Run("f3", Style(10.0)))


def test_the_painted_diagram_looks_like_the_drawn_one() -> None:
    from trainer.diagram import diagram_svg

    cairo = load_cairo()
    (diagram,) = [item for item in small_lesson().items if isinstance(item, Diagram)]
    painted = cairo.ImageSurface.create_from_png(io.BytesIO(DiagramPainter().png(diagram, 300)))
    svg = diagram_svg(diagram.board, size=300, arrows=diagram.arrows)
    drawn = cairo.ImageSurface.create_from_png(
        io.BytesIO(cairosvg.svg2png(bytestring=svg.encode()))
    )
    one, other = bytes(painted.get_data()), bytes(drawn.get_data())
    assert painted.get_width() == drawn.get_width() == 300
    different = sum(abs(a - b) > 60 for a, b in zip(one, other, strict=True) if a != 255)
    assert different < len(one) * 0.01


@pytest.mark.parametrize("flipped", [False, True])
def test_arrows_numbers_and_marks_look_like_the_drawn_ones(flipped: bool) -> None:
    # On an empty board, so that nothing but them can differ; beside it the same without them.
    from trainer.diagram import diagram_svg

    board = chess.Board(None)
    arrows = ((chess.E2, chess.E4), (chess.G8, chess.F6), (chess.A1, chess.H8))
    marks = (chess.D5, chess.B7)
    diagram = Diagram(board, arrows=arrows, marks=marks, flipped=flipped)
    bare = Diagram(board, flipped=flipped)

    def pixels(png: bytes) -> np.ndarray:
        surface = load_cairo().ImageSurface.create_from_png(io.BytesIO(png))
        rows = np.frombuffer(surface.get_data(), np.uint8)
        return rows.reshape(400, surface.get_stride())[:, 0:1600:4].astype(int)

    def drawn(one: Diagram) -> np.ndarray:
        svg = diagram_svg(one.board, size=400, flipped=flipped, arrows=one.arrows, marks=one.marks)
        return pixels(cairosvg.svg2png(bytestring=svg.encode()))

    painter = DiagramPainter()
    ours = pixels(painter.png(diagram, 400)) - pixels(painter.png(bare, 400))
    theirs = drawn(diagram) - drawn(bare)
    assert np.abs(theirs).max() > 100
    assert (np.abs(theirs) > 60).mean() > 0.01
    assert (np.abs(ours - theirs) > 60).mean() < 0.002


@pytest.mark.parametrize("ending", ["pdf", "html", "pgn", "epd", "png", "svg"])
def test_every_ending_is_written(tmp_path: Path, ending: str) -> None:
    written = write_lesson(tmp_path / f"l.{ending}", small_lesson())
    names = ["l-1", "l-2"] if ending in ("png", "svg") else ["l"]
    assert [path.name for path in written] == [f"{name}.{ending}" for name in names]
    assert all(path.stat().st_size > 100 for path in written)


def test_what_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(HandoutError, match="end its name in"):
        write_lesson(tmp_path / "l.doc", small_lesson())
    with pytest.raises(HandoutError, match="cannot be written"):
        write_lesson(tmp_path / "nowhere" / "l.pdf", small_lesson())
    with pytest.raises(HandoutError, match="no diagram"):
        write_lesson(tmp_path / "l.svg", Lesson("Words", (Text("Only words."),)))
    with pytest.raises(HandoutError, match="holds nothing"):
        write_lesson(tmp_path / "l.epd", Lesson("Words", (Text("Only words."),)))


def test_every_move_and_note_of_a_section_is_in_its_lines() -> None:
    repertoire = demo()
    for section in repertoire.sections:
        lines = section_lines(section)
        shown = [(step.move, step.san, note) for step in lines.steps for note in step.comments]
        assert len(lines.steps) == len(section.stands)
        for edge in section.stands:
            for note in (*edge.comments, *edge.before):
                notes = [one[2] for one in shown]
                assert note in notes or any(note in step.before for step in lines.steps)
        for step, after in zip(lines.steps, lines.boards(), strict=True):
            before = lines.board if step.parent is None else lines.boards()[step.parent]
            assert before.san(step.move) == step.san
            assert after.is_valid()


def test_lessons_of_sections_and_structures() -> None:
    repertoire = demo()
    lesson = lesson_of_sections(repertoire, chosen_sections(repertoire, "1"), BOOK, date=DAY)
    assert lesson.title == repertoire.sections[0].title
    assert lesson.diagrams()
    assert "King's Indian Attack" in lesson.diagrams()[0].caption
    shares = structure_shares(RepertoireArrays.compile(repertoire), BOOK)
    lesson = lesson_of_structure(repertoire, shares[0], notes="Play h4.\n\nThen Nf1.")
    texts = [item.text for item in lesson.items if isinstance(item, Text)]
    assert {"Play h4.", "Then Nf1."} <= set(texts)
    assert any(isinstance(item, Lines) for item in lesson.items)
    with pytest.raises(HandoutError, match="no section “nothing”"):
        chosen_sections(repertoire, "nothing")


def test_since_which_move_a_structure_stands() -> None:
    text = '[RepertoireSide "White"]\n\n1. e4 e6 2. d4 d5 3. e5 c5 4. c3 Nc6 *'
    repertoire = read_repertoire_text(text).repertoire
    nodes = list(repertoire.nodes.values())
    (found,) = BOOK.find(nodes[-1].board())
    assert since_text(repertoire, nodes[-1], found, BOOK) == "3 e5"
    begun = read_repertoire_text(
        '[FEN "4k3/8/4p3/3p4/3PP3/8/8/4K3 b - - 0 7"]\n[RepertoireSide "White"]\n\n'
        "7... Kd7 8. e5 Kc6 *"
    ).repertoire
    last = list(begun.nodes.values())[-1]
    (found,) = BOOK.find(last.board())
    assert since_text(begun, last, found, BOOK) == "2 e5"
    assert since_text(begun, begun.roots[0], found, BOOK) == ""


def test_a_game_with_moments_becomes_a_lesson() -> None:
    game = read_game(repertoire_path("demo-games.pgn"), 1)
    assert game.title == "Linden, Mara – Sandlewick, Uta, 0-1"
    draft = narrate(game, BOOK, tricks=False)
    lesson = lesson_of_game(draft, moments=[moment_of(game, 23)])
    assert len(lesson.questions) == 1
    assert lesson.questions[0].answer() == "12 Na4."
    with pytest.raises(RepertoireFileError, match="has no game 9999"):
        read_game(repertoire_path("demo-games.pgn"), 9999)


def test_requests_that_contradict_themselves(tmp_path: Path) -> None:
    source = repertoire_path("kings-indian-attack.pgn")
    for wishes in (
        {"moments": "12w"},
        {"section": "1", "structure": "slav"},
        {"game": 1, "section": "1"},
    ):
        with pytest.raises(UsageError):
            make_handout(HandoutRequest(source, tmp_path / "l.pdf", **wishes))
    with pytest.raises(StemlineError, match="does not lead to a structure"):
        make_handout(HandoutRequest(source, tmp_path / "l.pdf", structure="benko"))
    assert list(tmp_path.iterdir()) == []


def test_what_a_handout_is_made_of_is_never_written_over(tmp_path: Path) -> None:
    mine = tmp_path / "mine.pgn"
    mine.write_bytes(repertoire_path("kings-indian-attack.pgn").read_bytes())
    before = mine.read_bytes()
    link = tmp_path / "link.pgn"
    link.symlink_to(mine)
    other = tmp_path / "other.pgn"
    other.hardlink_to(mine)
    for out in (mine, link, other):
        with pytest.raises(HandoutError, match="would be lost"):
            make_handout(HandoutRequest(mine, out))
    games = repertoire_path("demo-games.pgn")
    with pytest.raises(HandoutError, match="would be lost"):
        make_handout(HandoutRequest(games, mine, game=1, against=mine))
    with pytest.raises(HandoutError, match="would be lost"):
        write_lesson(mine, small_lesson(), spare=[mine])
    assert mine.read_bytes() == before
    # Another PGN file that was there stays beside the new one.
    third = tmp_path / "third.pgn"
    third.write_text("precious", encoding="utf-8")
    write_lesson(third, small_lesson(), spare=[mine])
    assert (tmp_path / "third.pgn.bak").read_text(encoding="utf-8") == "precious"


def test_a_game_of_moves_only() -> None:
    game = LessonGame.of(chess.Board(), [chess.Move.from_uci("e2e4")])
    assert (game.title, game.numbered(1)) == ("A game", "1 e4")
    assert re.fullmatch(r"A game", lesson_of_game(narrate(game, BOOK)).title)


def test_the_pgn_of_all_sections_is_the_repertoire_again() -> None:
    repertoire = demo()
    lesson = lesson_of_sections(repertoire, repertoire.sections, BOOK)
    again = read_repertoire_text(lesson_pgn(lesson), side=repertoire.side)
    assert again.skipped == []
    assert set(again.repertoire.nodes) == set(repertoire.nodes)
    moves = {(edge.parent.key, edge.move) for edge in repertoire.edges()}
    assert {(edge.parent.key, edge.move) for edge in again.repertoire.edges()} == moves
    for node in repertoire.decisions():
        main = again.repertoire.nodes[node.key].edges[0].move
        assert main == node.edges[0].move
