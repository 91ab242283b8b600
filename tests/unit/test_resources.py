import re
from pathlib import Path
from xml.etree import ElementTree

import chess
import pytest

from trainer.diagram import piece_file
from trainer.errors import ResourceMissingError
from trainer.resources import repertoire_path, resource_path

PIECES = [chess.Piece(kind, color) for color in chess.COLORS for kind in chess.PIECE_TYPES]


def _lay_out(root: Path, inside_wheel: bool) -> Path:
    """Make a package folder with one piece and one repertoire; return the package folder."""
    package = root / "trainer"
    data = package / "_data" if inside_wheel else root
    (data / "resources" / "pieces").mkdir(parents=True)
    (data / "resources" / "pieces" / "white-king.svg").write_text("<svg/>")
    (data / "repertoires").mkdir()
    (data / "repertoires" / "demo.pgn").write_text("*\n")
    package.mkdir(exist_ok=True)
    return package


@pytest.mark.parametrize("inside_wheel", [False, True])
def test_files_are_found_in_a_checkout_and_in_a_wheel(tmp_path: Path, inside_wheel: bool) -> None:
    package = _lay_out(tmp_path, inside_wheel)
    piece = resource_path("pieces", "white-king.svg", package=package)
    assert piece.read_text() == "<svg/>"
    assert repertoire_path("demo.pgn", package=package).read_text() == "*\n"
    assert ("_data" in piece.parts) is inside_wheel


def test_the_wheel_copy_wins_over_a_stranger_beside_site_packages(tmp_path: Path) -> None:
    _lay_out(tmp_path, inside_wheel=False)
    package = tmp_path / "trainer"
    inner = package / "_data" / "resources" / "pieces"
    inner.mkdir(parents=True)
    (inner / "white-king.svg").write_text("<svg>ours</svg>")
    found = resource_path("pieces", "white-king.svg", package=package)
    assert found.read_text() == "<svg>ours</svg>"


def test_a_missing_file_is_named_in_one_sentence(tmp_path: Path) -> None:
    with pytest.raises(ResourceMissingError) as caught:
        resource_path("pieces", "red-king.svg", package=tmp_path / "trainer")
    message = str(caught.value)
    assert "resources/pieces/red-king.svg" in message
    assert str(tmp_path) in message
    assert "\n" not in message
    assert message.endswith(".")


def test_a_missing_repertoire_is_named(tmp_path: Path) -> None:
    with pytest.raises(ResourceMissingError, match=r"repertoires/nothing\.pgn"):
        repertoire_path("nothing.pgn", package=tmp_path / "trainer")


@pytest.mark.parametrize("piece", PIECES, ids=piece_file)
def test_pieces_are_plain_self_contained_drawings(piece: chess.Piece) -> None:
    text = resource_path("pieces", piece_file(piece)).read_text(encoding="utf-8")
    root = ElementTree.fromstring(text)
    assert root.get("viewBox") == "0 0 100 100"
    tags = {element.tag.rpartition("}")[2] for element in root.iter()}
    assert tags <= {"svg", "title", "path", "circle", "polygon"}
    assert set(re.findall(r"#[0-9A-Fa-f]{6}", text)) == {"#23211E", "#FBF8F1"}


def test_all_pieces_stand_on_one_foot() -> None:
    feet = set()
    for piece in PIECES:
        text = resource_path("pieces", piece_file(piece)).read_text(encoding="utf-8")
        silhouette = re.search(r'd="([^"]+)"', text)
        assert silhouette is not None
        feet.add(" ".join(silhouette.group(1).split("Z")[:2]))
    assert len(feet) == 1


def test_the_application_mark_is_there() -> None:
    root = ElementTree.parse(resource_path("icons", "stemline.svg")).getroot()
    assert root.get("viewBox") == "0 0 256 256"
