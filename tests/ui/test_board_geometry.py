import chess
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from trainer.ui.board.geometry import BoardGeometry

geometries = st.builds(
    BoardGeometry.fit,
    st.integers(200, 2000),
    st.integers(200, 2000),
    st.sampled_from([1.0, 1.25, 1.5, 1.75, 2.0, 3.0]),
    flipped=st.booleans(),
    coordinates=st.booleans(),
)


@settings(deadline=None)
@given(geometries)
def test_every_square_is_found_again_by_its_centre(geometry: BoardGeometry) -> None:
    for square in chess.SQUARES:
        x, y = geometry.centre(square)
        assert geometry.square_at(x / geometry.ratio, y / geometry.ratio) == square


@settings(deadline=None)
@given(geometries)
def test_the_squares_tile_the_field(geometry: BoardGeometry) -> None:
    left, top, width, height = geometry.field
    assert width == height == 8 * geometry.square
    corners = {geometry.rect(square)[:2] for square in chess.SQUARES}
    steps = [i * geometry.square for i in range(8)]
    assert corners == {(left + x, top + y) for x in steps for y in steps}


@settings(deadline=None)
@given(st.integers(200, 2000), st.integers(200, 2000), st.sampled_from([1.0, 1.25, 2.0]))
def test_the_board_is_as_large_as_it_can_be_and_centred(
    width: int, height: int, ratio: float
) -> None:
    geometry = BoardGeometry.fit(width, height, ratio, flipped=False, coordinates=True)
    x, y, side, _ = geometry.block
    wide, high = int(width * ratio), int(height * ratio)
    assert x >= 0
    assert y >= 0
    assert x + side <= wide
    assert y + side <= high
    assert min(wide, high) - side < 8
    assert abs((wide - side) - 2 * x) <= 1
    assert abs((high - side) - 2 * y) <= 1


def test_white_is_at_the_bottom_unless_flipped() -> None:
    geometry = BoardGeometry.fit(640, 640, 1, flipped=False, coordinates=True)
    turned = BoardGeometry.fit(640, 640, 1, flipped=True, coordinates=True)
    assert geometry.cell(chess.A1) == (0, 7)
    assert geometry.cell(chess.H8) == (7, 0)
    assert turned.cell(chess.A1) == (7, 0)
    assert turned.cell(chess.H8) == (0, 7)


@pytest.mark.parametrize("point", [(0, 0), (639, 639), (5, 320), (320, 635), (-3, 10)])
def test_outside_the_squares_there_is_no_square(point: tuple[int, int]) -> None:
    geometry = BoardGeometry.fit(640, 640, 1, flipped=False, coordinates=True)
    assert geometry.square_at(*point) is None


def test_a_logical_rectangle_covers_the_device_one() -> None:
    geometry = BoardGeometry.fit(640, 640, 1.5, flipped=False, coordinates=True)
    assert geometry.logical_rect((10, 11, 20, 20)) == (6, 7, 14, 14)
