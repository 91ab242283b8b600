import re
import struct
from pathlib import Path
from xml.etree import ElementTree

import chess
import chess.svg
import pytest

from trainer.diagram import (
    HATCH_LINES,
    DiagramError,
    arrow_shape,
    corner_ticks,
    diagram_svg,
    write_diagram,
)

POSITION = chess.Board("r1bq1rk1/pp2npbp/2n1p1p1/2pp4/4P3/3P1NP1/PPPN1PBP/R1BQR1K1 w - - 0 9")
SVG = "{http://www.w3.org/2000/svg}"
HREF = "{http://www.w3.org/1999/xlink}href"


def _placed(svg: str) -> dict[str, set[tuple[int, int]]]:
    """Return for each kind of `use` the (column, row) cells where it stands."""
    root = ElementTree.fromstring(svg)
    uses = [
        (use.get(HREF, "")[1:], *map(float, re.findall(r"[\d.]+", use.get("transform", ""))))
        for use in root.iter(f"{SVG}use")
    ]
    left = min(x for _, x, _ in uses)
    top = min(y for _, _, y in uses)
    placed: dict[str, set[tuple[int, int]]] = {}
    for name, x, y in uses:
        placed.setdefault(name, set()).add((round((x - left) / 100), round((y - top) / 100)))
    return placed


def _reference(flipped: bool) -> dict[str, set[tuple[int, int]]]:
    """The same from python-chess's own drawing, whose squares are 45 units wide."""
    orientation = chess.BLACK if flipped else chess.WHITE
    text = chess.svg.board(POSITION, orientation=orientation, coordinates=False)
    placed: dict[str, set[tuple[int, int]]] = {}
    for name, x, y in re.findall(r'href="#([a-z-]+)" transform="translate\((\d+), (\d+)\)', text):
        placed.setdefault(name, set()).add((int(x) // 45, int(y) // 45))
    return placed


@pytest.mark.parametrize("flipped", [False, True])
def test_pieces_stand_where_python_chess_draws_them(flipped: bool) -> None:
    # Reference library: chess.svg of python-chess 1.11.
    ours = _placed(diagram_svg(POSITION, flipped=flipped))
    dark = ours.pop("dark")
    assert ours == _reference(flipped)
    assert dark == {(c, r) for c in range(8) for r in range(8) if (c + r) % 2}


def test_the_title_is_the_position() -> None:
    root = ElementTree.fromstring(diagram_svg(POSITION))
    title = root.find(f"{SVG}title")
    assert title is not None
    assert title.text == POSITION.fen()


def test_a_corner_square_h1_is_light() -> None:
    # FIDE Laws of Chess (2023), article 2.1: the near corner square to the right is white.
    assert (7, 7) not in _placed(diagram_svg(POSITION))["dark"]


def _dark_square(svg: str) -> ElementTree.Element:
    root = ElementTree.fromstring(svg)
    return next(group for group in root.iter(f"{SVG}g") if group.get("id") == "dark")


def test_hatching_has_nine_lines_to_a_square_at_45_degrees() -> None:
    path = _dark_square(diagram_svg(POSITION)).find(f"{SVG}path")
    assert path is not None
    lines = re.findall(r"M([\d.]+) ([\d.]+)L([\d.]+) ([\d.]+)", path.get("d", ""))
    # Nine cross each edge of the square: the long diagonal and eight on either side of it.
    assert len(lines) == 2 * HATCH_LINES - 1 == 17
    for x0, y0, x1, y1 in lines:
        assert float(x1) - float(x0) == pytest.approx(float(y0) - float(y1), abs=0.011)
        assert min(map(float, (x0, y0, x1, y1))) >= 0
        assert max(map(float, (x0, y0, x1, y1))) <= 100


def test_the_plain_style_has_no_hatching() -> None:
    group = _dark_square(diagram_svg(POSITION, style="plain"))
    assert [child.tag for child in group] == [f"{SVG}rect"]


def test_coordinates_run_the_other_way_when_flipped() -> None:
    def labels(flipped: bool) -> list[str | None]:
        root = ElementTree.fromstring(diagram_svg(POSITION, flipped=flipped))
        texts = sorted(root.iter(f"{SVG}text"), key=lambda text: float(text.get("x", "0")))
        return [text.text for text in texts if text.text in set("abcdefgh")]

    assert labels(flipped=False) == list("abcdefgh")
    assert labels(flipped=True) == list("hgfedcba")
    assert "<text" not in diagram_svg(POSITION, coordinates=False)


def test_arrows_are_numbered_only_when_there_are_several() -> None:
    one = diagram_svg(POSITION, coordinates=False, arrows=[(chess.E4, chess.E5)])
    two = diagram_svg(
        POSITION, coordinates=False, arrows=[(chess.E4, chess.E5), (chess.D2, chess.F1)]
    )
    assert "<text" not in one
    assert re.findall(r">(\d)</text>", two) == ["1", "2"]


def test_the_last_move_has_two_ticks_on_each_square() -> None:
    plain = diagram_svg(POSITION)
    ticked = diagram_svg(POSITION, lastmove=chess.Move.from_uci("e7e6"))
    added = set(ticked.splitlines()) - set(plain.splitlines())
    assert len(added) == 1
    assert added.pop().count("M") == 4
    assert diagram_svg(POSITION, lastmove=chess.Move.null()) == plain


def test_ticks_stay_inside_their_square() -> None:
    points = [point for tick in corner_ticks(100, 200, 50) for point in tick]
    assert all(100 < x < 150 and 200 < y < 250 for x, y in points)


def test_an_arrow_points_from_start_to_end() -> None:
    shape = arrow_shape((50, 50), (50, 350), 100)
    tip, left, right = shape.head
    assert tip == pytest.approx((50, 342))
    assert left[1] == right[1] == pytest.approx(308)
    assert {left[0], right[0]} == {33.0, 67.0}
    assert shape.shaft[1] == pytest.approx((50, 308))


def test_png_has_the_asked_size(tmp_path: Path) -> None:
    path = tmp_path / "position.png"
    write_diagram(path, POSITION, size=320, marks=[chess.D5])
    data = path.read_bytes()
    # W3C PNG specification, 5.2 (signature) and 11.2.2 (IHDR: width and height).
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", data[16:24]) == (320, 320)


def test_pdf_and_svg_are_told_by_the_suffix(tmp_path: Path) -> None:
    write_diagram(tmp_path / "position.PDF", POSITION)
    write_diagram(tmp_path / "position.svg", POSITION, flipped=True)
    # ISO 32000-1, 7.5.2: the file header.
    assert (tmp_path / "position.PDF").read_bytes().startswith(b"%PDF-")
    written = (tmp_path / "position.svg").read_text(encoding="utf-8")
    assert written == diagram_svg(POSITION, flipped=True)


@pytest.mark.parametrize("name", ["position.gif", "position"])
def test_another_suffix_is_refused(tmp_path: Path, name: str) -> None:
    with pytest.raises(DiagramError, match=r"\.svg, \.png or \.pdf"):
        write_diagram(tmp_path / name, POSITION)
    assert not list(tmp_path.iterdir())


def test_an_unwritable_place_is_named(tmp_path: Path) -> None:
    path = tmp_path / "no such folder" / "position.svg"
    with pytest.raises(DiagramError) as caught:
        write_diagram(path, POSITION)
    assert str(path) in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("size", [0, -5, 63, 8001])
def test_impossible_sizes_are_refused(size: int) -> None:
    with pytest.raises(DiagramError, match="64 to 8000"):
        diagram_svg(POSITION, size=size)


def test_an_unknown_style_and_a_pointless_arrow_are_refused() -> None:
    with pytest.raises(DiagramError, match="hatched or plain"):
        diagram_svg(POSITION, style="marble")
    with pytest.raises(DiagramError, match="another square"):
        diagram_svg(POSITION, arrows=[(chess.E4, chess.E4)])
