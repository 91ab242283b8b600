"""Paper, ink and one accent: the colours of the window, light and dark, and its style sheet."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtGui import QColor, QFont, QFontDatabase, QFontInfo, QPalette

from trainer.colours import INK, PAPER, PIECE_PAPER
from trainer.resources import resource_path


@dataclass(frozen=True)
class Theme:
    """The colours of the program as `#RRGGBB`.

    `paper` is the ground of the window, `surface` that of sheets, fields and lists on it; `ink`
    the text, `muted` secondary text and the edges of controls; `line` hairlines that carry no
    meaning; `accent` marks only what is to be done now, with `on_accent` as text on it.

    `recall` is the ramp for remembered moves, from 0 to 1 in equal steps. It is computed in OKLab
    (B. Ottosson, "A perceptual color space for image processing", 2020) with equal steps of
    lightness, so that the order survives every kind of colour blindness and grey printing.

    `board_paper`, `board_ink`, `board_frame` and `piece_paper` draw the board, which stays a
    dimmed paper in the dark, where black pieces would else vanish.
    """

    name: str
    dark: bool
    paper: str
    surface: str
    ink: str
    muted: str
    line: str
    accent: str
    on_accent: str
    recall: tuple[str, ...]
    board_paper: str
    board_ink: str
    board_frame: str
    piece_paper: str

    def recall_colour(self, recall: float) -> str:
        """Return the ramp's colour for a recall probability from 0 to 1."""
        step = int(min(max(recall, 0.0), 1.0) * len(self.recall))
        return self.recall[min(step, len(self.recall) - 1)]


LIGHT = Theme(
    name="light",
    dark=False,
    paper=PAPER,
    surface="#FCFAF5",
    ink=INK,
    muted="#665F54",
    line="#CDC4B2",
    accent="#9A3324",
    on_accent="#FCFAF5",
    recall=("#ECE5CB", "#BEC5A8", "#8EA68C", "#5E8877", "#316866", "#014855"),
    board_paper=PAPER,
    board_ink=INK,
    board_frame=INK,
    piece_paper=PIECE_PAPER,
)

DARK = Theme(
    name="dark",
    dark=True,
    paper="#1E1C19",
    surface="#292622",
    ink="#EBE4D6",
    muted="#A89F90",
    line="#4A443B",
    accent="#E8937A",
    on_accent="#1E1C19",
    recall=("#1B3D49", "#355D62", "#567F78", "#7DA18E", "#A9C2A5", "#D9E3BF"),
    board_paper="#C6BDAC",
    board_ink=INK,
    board_frame="#8D8474",
    piece_paper="#E6DECE",
)

_BASE_POINTS = 10.5
_Length = Callable[[float], str]


def system_serif() -> str:
    """Return the family that the system uses for serif text, for notes and titles."""
    font = QFont("serif")
    font.setStyleHint(QFont.StyleHint.Serif)
    return QFontInfo(font).family()


def system_sans() -> str:
    """Return the family that the system uses for its controls."""
    return QFontInfo(QFontDatabase.systemFont(QFontDatabase.SystemFont.GeneralFont)).family()


def tabular(font: QFont) -> QFont:
    """Return a copy of a font whose figures all have one width, for tables and counters.

    Uses the OpenType feature `tnum` where Qt can set it (6.7 and later); most system fonts have
    such figures by default.
    """
    copy = QFont(font)
    if hasattr(QFont, "setFeature"):
        copy.setFeature(QFont.Tag("tnum"), 1)
    return copy


def application_palette(theme: Theme) -> QPalette:
    """Return the palette for the parts that the style sheet leaves to the Fusion style."""
    palette = QPalette()
    role = QPalette.ColorRole
    colours = {
        role.Window: theme.paper,
        role.WindowText: theme.ink,
        role.Base: theme.surface,
        role.AlternateBase: theme.paper,
        role.Text: theme.ink,
        role.PlaceholderText: theme.muted,
        role.Button: theme.surface,
        role.ButtonText: theme.ink,
        role.ToolTipBase: theme.ink,
        role.ToolTipText: theme.paper,
        role.Highlight: theme.ink,
        role.HighlightedText: theme.paper,
        role.Link: theme.accent,
        role.LinkVisited: theme.accent,
        role.BrightText: theme.accent,
        role.Light: theme.surface,
        role.Midlight: theme.line,
        role.Mid: theme.line,
        role.Dark: theme.muted,
        role.Shadow: theme.ink,
    }
    for key, colour in colours.items():
        palette.setColor(key, QColor(colour))
    for key in (role.WindowText, role.Text, role.ButtonText):
        palette.setColor(QPalette.ColorGroup.Disabled, key, QColor(theme.muted))
    return palette


def application_stylesheet(theme: Theme, scale: float = 1.0) -> str:
    """Return the style sheet of the whole window, made for the Fusion style.

    `scale` enlarges text and spacing, 1.0 to 3.0. Properties that widgets may set:
    `primary="true"` on the one button that starts what is to be done now; `role="title"`,
    `"heading"`, `"note"` or `"muted"` on labels; `role="sheet"` on a frame that is a sheet of
    paper, `"row"` on a widget that lies on one; `role="places"` on the tab bar or list of the
    places of the window.
    """

    def px(value: float) -> str:
        return f"{max(1, round(value * scale))}px"

    def pt(value: float) -> str:
        return f"{value * scale:.1f}pt"

    return "\n".join(
        (
            _text(theme, pt),
            _buttons(theme, px),
            _fields(theme, px),
            _lists(theme, px, pt),
            _small_parts(theme, px, pt),
        )
    )


def _icon(name: str, theme: Theme) -> str:
    return resource_path("icons", f"{name}-{theme.name}.svg").as_posix()


def _text(theme: Theme, pt: _Length) -> str:
    return f"""
QWidget {{
    background: {theme.paper}; color: {theme.ink};
    font-family: "{system_sans()}"; font-size: {pt(_BASE_POINTS)};
    selection-background-color: {theme.ink}; selection-color: {theme.paper};
}}
QLabel, QCheckBox, QRadioButton {{ background: transparent; }}
QLabel[role="title"] {{ font-family: "{system_serif()}"; font-size: {pt(22)}; }}
QLabel[role="heading"] {{ font-family: "{system_serif()}"; font-size: {pt(15)}; }}
QLabel[role="note"], QPlainTextEdit, QTextBrowser, QTextEdit {{
    font-family: "{system_serif()}"; font-size: {pt(11.5)};
}}
QLabel[role="muted"] {{ color: {theme.muted}; }}
QWidget[role="row"] {{ background: transparent; }}
QFrame[role="sheet"] {{ background: {theme.surface}; border: 1px solid {theme.line}; }}
QDialog {{ background: {theme.paper}; }}
"""


def _buttons(theme: Theme, px: _Length) -> str:
    return f"""
QPushButton, QToolButton {{
    background: {theme.surface}; border: {px(1)} solid {theme.muted}; border-radius: {px(3)};
    padding: {px(6)} {px(14)};
}}
QToolButton {{ padding: {px(5)} {px(8)}; }}
QPushButton:hover, QToolButton:hover {{ border-color: {theme.ink}; background: {theme.paper}; }}
QPushButton:pressed, QToolButton:pressed, QToolButton:checked, QPushButton:checked {{
    background: {theme.ink}; color: {theme.paper}; border-color: {theme.ink};
}}
QPushButton:disabled, QToolButton:disabled {{
    color: {theme.muted}; border-color: {theme.line}; background: {theme.paper};
}}
QPushButton:focus, QToolButton:focus {{
    border: {px(2)} solid {theme.ink}; padding: {px(5)} {px(13)};
}}
QToolButton:focus {{ padding: {px(4)} {px(7)}; }}
QPushButton[primary="true"] {{
    background: {theme.accent}; color: {theme.on_accent}; border-color: {theme.accent};
    font-weight: bold; padding: {px(8)} {px(20)};
}}
QPushButton[primary="true"]:hover {{ border-color: {theme.ink}; }}
QPushButton[primary="true"]:focus {{
    border: {px(2)} solid {theme.ink}; padding: {px(7)} {px(19)};
}}
QPushButton[primary="true"]:pressed {{ background: {theme.ink}; color: {theme.paper}; }}
QPushButton[primary="true"]:disabled {{
    background: {theme.line}; color: {theme.muted}; border-color: {theme.line};
}}
QCheckBox, QRadioButton {{
    spacing: {px(8)}; padding: {px(3)}; border: {px(2)} solid transparent;
}}
QCheckBox:focus, QRadioButton:focus {{ border: {px(2)} solid {theme.ink}; }}
QCheckBox:disabled, QRadioButton:disabled {{ color: {theme.muted}; }}
QCheckBox::indicator, QRadioButton::indicator, QListView::indicator {{
    width: {px(14)}; height: {px(14)}; border: {px(1)} solid {theme.muted};
    background: {theme.surface};
}}
QRadioButton::indicator {{ border-radius: {px(7.4)}; }}
QCheckBox::indicator:checked, QListView::indicator:checked {{
    background: {theme.ink}; border-color: {theme.ink}; image: url("{_icon("tick", theme)}");
}}
QRadioButton::indicator:checked {{
    border-color: {theme.ink};
    background: qradialgradient(cx: 0.5, cy: 0.5, radius: 0.5, fx: 0.5, fy: 0.5,
        stop: 0 {theme.ink}, stop: 0.5 {theme.ink}, stop: 0.6 {theme.surface});
}}
"""


def _fields(theme: Theme, px: _Length) -> str:
    return f"""
QLineEdit, QPlainTextEdit, QTextBrowser, QTextEdit {{
    background: {theme.surface}; border: {px(1)} solid {theme.muted}; padding: {px(5)};
}}
QTextBrowser[role="note"] {{ border: none; background: transparent; }}
QLineEdit:focus, QPlainTextEdit:focus, QTextBrowser:focus, QTextEdit:focus {{
    border: {px(2)} solid {theme.ink}; padding: {px(4)};
}}
QLineEdit:disabled, QSpinBox:disabled, QComboBox:disabled {{ color: {theme.muted}; }}
QAbstractSpinBox, QComboBox {{
    background: {theme.surface}; border: {px(1)} solid {theme.muted};
    padding: {px(4)} {px(6)}; min-height: {px(18)};
}}
QAbstractSpinBox {{ padding: {px(4)} {px(20)} {px(4)} {px(6)}; }}
QAbstractSpinBox QLineEdit {{ border: none; padding: 0; background: transparent; }}
QAbstractSpinBox:focus, QComboBox:focus {{
    border: {px(2)} solid {theme.ink}; padding: {px(3)} {px(5)};
}}
QAbstractSpinBox:focus {{ padding: {px(3)} {px(19)} {px(3)} {px(5)}; }}
QComboBox::drop-down {{
    subcontrol-origin: border; subcontrol-position: right center;
    width: {px(24)}; border: none;
}}
QAbstractSpinBox::up-button, QAbstractSpinBox::down-button {{
    subcontrol-origin: border; width: {px(20)}; border: none; background: transparent;
}}
QAbstractSpinBox::up-button {{ subcontrol-position: top right; }}
QAbstractSpinBox::down-button {{ subcontrol-position: bottom right; }}
QComboBox::down-arrow, QAbstractSpinBox::down-arrow {{
    image: url("{_icon("down", theme)}"); width: {px(11)}; height: {px(11)};
}}
QAbstractSpinBox::up-arrow {{
    image: url("{_icon("up", theme)}"); width: {px(11)}; height: {px(11)};
}}
QComboBox QAbstractItemView {{
    background: {theme.surface}; border: {px(1)} solid {theme.muted};
    selection-background-color: {theme.ink}; selection-color: {theme.paper};
}}
"""


def _lists(theme: Theme, px: _Length, pt: _Length) -> str:
    return f"""
QTabBar::tab {{
    background: transparent; color: {theme.muted}; padding: {px(8)} {px(14)};
    border: {px(2)} solid transparent; border-bottom: {px(3)} solid transparent;
}}
QTabBar::tab:selected {{ color: {theme.ink}; border-bottom: {px(3)} solid {theme.ink}; }}
QTabBar::tab:hover {{ color: {theme.ink}; }}
QTabBar::tab:selected:focus {{ border: {px(2)} solid {theme.ink}; }}
QTabBar[role="places"]::tab {{ font-family: "{system_serif()}"; font-size: {pt(13)}; }}
QTabWidget::pane {{ border: none; border-top: 1px solid {theme.line}; }}
QListView[role="places"] {{
    background: transparent; border: none; outline: none;
    font-family: "{system_serif()}"; font-size: {pt(13)};
}}
QListView[role="places"]::item {{
    padding: {px(8)} {px(14)}; color: {theme.muted}; border: {px(2)} solid transparent;
    border-left: {px(3)} solid transparent;
}}
QListView[role="places"]::item:selected {{
    background: transparent; color: {theme.ink}; border-left: {px(3)} solid {theme.ink};
}}
QListView[role="places"]::item:selected:focus {{ border: {px(2)} solid {theme.ink}; }}
QTableView, QTreeView, QListView {{
    background: {theme.surface}; alternate-background-color: {theme.paper};
    border: {px(1)} solid {theme.line}; gridline-color: {theme.line};
}}
QTableView:focus, QTreeView:focus, QListView:focus {{ border: {px(2)} solid {theme.ink}; }}
QListView[role="places"]:focus {{ border: none; }}
QTableView::item, QTreeView::item {{ padding: {px(4)} {px(6)}; }}
QTableView::item:selected, QTreeView::item:selected, QListView::item:selected {{
    background: {theme.ink}; color: {theme.paper};
}}
QHeaderView::section {{
    background: {theme.paper}; color: {theme.muted}; border: none;
    border-bottom: {px(1)} solid {theme.muted}; padding: {px(5)} {px(6)};
}}
QTableCornerButton::section {{ background: {theme.paper}; border: none; }}
"""


def _small_parts(theme: Theme, px: _Length, pt: _Length) -> str:
    return f"""
QScrollBar {{ background: transparent; border: none; margin: 0; }}
QScrollBar:vertical {{ width: {px(12)}; }}
QScrollBar:horizontal {{ height: {px(12)}; }}
QScrollBar::handle {{ background: {theme.muted}; border: {px(3)} solid {theme.paper}; }}
QScrollBar::handle:vertical {{ min-height: {px(28)}; }}
QScrollBar::handle:horizontal {{ min-width: {px(28)}; }}
QScrollBar::handle:hover {{ background: {theme.ink}; }}
QScrollBar::add-line, QScrollBar::sub-line {{ width: 0; height: 0; border: none; }}
QScrollBar::add-page, QScrollBar::sub-page {{ background: transparent; }}
QMenuBar {{ background: {theme.paper}; }}
QMenuBar::item {{ padding: {px(5)} {px(10)}; background: transparent; }}
QMenuBar::item:selected {{ background: {theme.ink}; color: {theme.paper}; }}
QMenu {{ background: {theme.surface}; border: {px(1)} solid {theme.muted}; padding: {px(4)} 0; }}
QMenu::item {{ padding: {px(5)} {px(22)}; background: transparent; }}
QMenu::item:selected {{ background: {theme.ink}; color: {theme.paper}; }}
QMenu::item:disabled {{ color: {theme.muted}; }}
QMenu::separator {{ height: 1px; background: {theme.line}; margin: {px(4)} 0; }}
QToolTip {{
    background: {theme.ink}; color: {theme.paper}; border: {px(1)} solid {theme.paper};
    padding: {px(4)} {px(6)}; font-size: {pt(9.5)};
}}
QProgressBar {{
    background: {theme.surface}; border: {px(1)} solid {theme.muted}; text-align: center;
    min-height: {px(16)};
}}
QProgressBar::chunk {{ background: {theme.line}; }}
QSplitter::handle {{ background: {theme.line}; }}
QStatusBar {{ color: {theme.muted}; }}
"""
