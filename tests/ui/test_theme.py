import math
import re
from itertools import pairwise

import numpy as np
import pytest
from PySide6.QtGui import QFont, QFontMetricsF
from PySide6.QtWidgets import QPushButton, QWidget

from trainer.ui.theme import (
    DARK,
    LIGHT,
    Theme,
    application_palette,
    application_stylesheet,
    tabular,
)

THEMES = pytest.mark.parametrize("theme", [LIGHT, DARK], ids=lambda theme: theme.name)

# sRGB to LMS and LMS' to lightness: B. Ottosson, "A perceptual color space for image
# processing", 2020.
_LMS = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_LIGHTNESS = np.array([0.2104542553, 0.7936177850, -0.0040720468])

# Machado, Oliveira, Fernandes, "A Physiologically-based Model for Simulation of Color Vision
# Deficiency", IEEE TVCG 15(6), 2009: severity 1.0, on linear RGB.
DEFICIENCIES = {
    "protanopia": [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    "deuteranopia": [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    "tritanopia": [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
}


def linear(colour: str) -> np.ndarray:
    """Linear RGB, 0 to 1. The threshold 0.04045 is that of IEC 61966-2-1."""
    values = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    return np.array([v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4 for v in values])


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definitions of relative luminance and contrast ratio."""
    weights = np.array([0.2126, 0.7152, 0.0722])
    low, high = sorted(float(weights @ linear(colour)) for colour in (one, other))
    return (high + 0.05) / (low + 0.05)


def lightness(rgb: np.ndarray) -> float:
    return float(_LIGHTNESS @ np.cbrt(_LMS @ np.clip(rgb, 0, 1)))


def test_the_contrast_formula_gives_known_values() -> None:
    # WCAG 2.2: the ratio runs from 1 to 21. #767676 on white as the lightest grey that passes
    # 4.5 is a well-known value, here from memory.
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21)
    assert contrast("#767676", "#FFFFFF") == pytest.approx(4.54, abs=0.005)
    assert contrast("#777777", "#FFFFFF") < 4.5


@THEMES
def test_text_reads_on_every_ground(theme: Theme) -> None:
    # WCAG 2.2, success criterion 1.4.3: at least 4.5 to 1.
    for ground in (theme.paper, theme.surface):
        for text in (theme.ink, theme.muted, theme.accent):
            assert contrast(text, ground) >= 4.5
    assert contrast(theme.on_accent, theme.accent) >= 4.5
    assert contrast(theme.paper, theme.ink) >= 4.5


@THEMES
def test_edges_of_controls_and_pieces_can_be_seen(theme: Theme) -> None:
    # WCAG 2.2, success criterion 1.4.11: at least 3 to 1 for what is needed to see a control.
    assert contrast(theme.muted, theme.surface) >= 3
    assert contrast(theme.board_ink, theme.board_paper) >= 3
    assert contrast(theme.board_ink, theme.piece_paper) >= 3
    assert contrast(theme.board_frame, theme.paper) >= 3


@THEMES
def test_the_recall_ramp_has_equal_steps_of_lightness(theme: Theme) -> None:
    values = [lightness(linear(colour)) for colour in theme.recall]
    steps = [after - before for before, after in pairwise(values)]
    assert 5 <= len(values) <= 7
    # To the rounding of eight bits a channel.
    assert max(steps) - min(steps) < 0.01
    # Remembered stands out from the ground, forgotten does not.
    ground = lightness(linear(theme.paper))
    assert abs(values[-1] - ground) > abs(values[0] - ground)


@THEMES
@pytest.mark.parametrize("deficiency", DEFICIENCIES)
def test_the_recall_ramp_keeps_its_order_without_colour_vision(
    theme: Theme, deficiency: str
) -> None:
    matrix = np.array(DEFICIENCIES[deficiency])
    values = [lightness(matrix @ linear(colour)) for colour in theme.recall]
    steps = [abs(after - before) for before, after in pairwise(values)]
    assert values in (sorted(values), sorted(values, reverse=True))
    assert min(steps) > 0.05


def test_recall_picks_the_step() -> None:
    assert LIGHT.recall_colour(0.0) == LIGHT.recall[0]
    assert LIGHT.recall_colour(0.49) == LIGHT.recall[2]
    assert LIGHT.recall_colour(1.0) == LIGHT.recall[-1]
    assert LIGHT.recall_colour(1.7) == LIGHT.recall[-1]
    assert LIGHT.recall_colour(-0.2) == LIGHT.recall[0]


@THEMES
def test_the_style_sheet_uses_only_colours_of_the_theme(theme: Theme, qapp) -> None:
    used = set(re.findall(r"#[0-9A-Fa-f]{6}", application_stylesheet(theme)))
    own = {theme.paper, theme.surface, theme.ink, theme.muted, theme.line}
    assert used == own | {theme.accent, theme.on_accent}


def test_the_scale_enlarges_text_and_spacing(qapp) -> None:
    def sizes(scale: float) -> list[float]:
        text = application_stylesheet(LIGHT, scale)
        return [float(size) for size in re.findall(r"font-size: ([\d.]+)pt", text)]

    for small, large in zip(sizes(1.0), sizes(3.0), strict=True):
        assert large == pytest.approx(3 * small, abs=0.06)


@THEMES
def test_qt_takes_the_style_sheet_and_marks_the_focus(theme: Theme, qtbot) -> None:
    # Qt reports a rule it cannot read as a warning, and a warning fails the test.
    window = QWidget()
    qtbot.addWidget(window)
    window.setPalette(application_palette(theme))
    window.setStyleSheet(application_stylesheet(theme))
    button = QPushButton("Start", window)
    button.setProperty("primary", "true")
    button.resize(160, 40)
    window.resize(200, 60)
    with qtbot.waitActive(window):
        window.show()
        window.activateWindow()
    button.clearFocus()
    before = button.grab().toImage()
    button.setFocus()
    qtbot.waitUntil(button.hasFocus)
    after = button.grab().toImage()
    assert before.pixelColor(80, 3).name().upper() == theme.accent
    assert before != after
    assert after.pixelColor(80, 0).name().upper() == theme.ink


def test_tabular_figures_have_one_width(qapp) -> None:
    metrics = QFontMetricsF(tabular(QFont("serif", 12)))
    widths = {metrics.horizontalAdvance(figure) for figure in "0123456789"}
    assert len(widths) == 1
    assert not math.isclose(widths.pop(), 0.0)
