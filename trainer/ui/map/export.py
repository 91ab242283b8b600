"""The whole plan as a file: SVG or PDF."""

from __future__ import annotations

from html import escape
from pathlib import Path
from typing import Final

from PySide6.QtCore import QBuffer, QIODevice, QMarginsF, QRectF, QSize, QSizeF, Qt
from PySide6.QtGui import (
    QColor,
    QFont,
    QFontMetricsF,
    QPageLayout,
    QPageSize,
    QPainter,
    QPdfWriter,
)
from PySide6.QtSvg import QSvgGenerator

from trainer.errors import StemlineError
from trainer.storage.atomic import write_atomically
from trainer.ui.look import Look
from trainer.ui.map.painter import MapPainter, Marks
from trainer.ui.map.scene import CLOSING, Scene
from trainer.ui.map.sign_words import ENTRIES, SignWords
from trainer.ui.map.view import View

#: The largest page of a PDF in points (ISO 32000-1, annex C: 14,400 units a side).
_LARGEST_PAGE: Final = 14_400.0
_POINTS_A_PIXEL: Final = 0.75
_DOTS_AN_INCH: Final = 96
FORMATS: Final = (".svg", ".pdf")
#: What stands around title and legend, and the narrowest sheet, in pixels.
_MARGIN: Final = 40.0
_LEAST_WIDTH: Final = 640.0


class MapExportError(StemlineError):
    """A plan that cannot be written as asked."""


def export_map(
    scene: Scene, look: Look, title: str, families: tuple[str, str], path: Path
) -> None:
    """Write all of a scene to `path`, as SVG or PDF by its ending, in one step.

    `families` are the fonts of the title and of all else. Raises `MapExportError`.
    """
    ending = path.suffix.lower()
    if ending not in FORMATS:
        raise MapExportError(
            f"{path.name} ends neither in .svg nor in .pdf; choose a name with one of the two."
        )
    sheet = _Sheet(scene, look, title, families)
    data = sheet.svg() if ending == ".svg" else sheet.pdf()
    try:
        write_atomically(path, data)
    except OSError as error:
        raise MapExportError(
            f"The map could not be written to {path} ({error.strerror or error}); "
            "choose another folder or free some space."
        ) from error


class _Sheet:
    """The plan with its title on one sheet, in pixels of 1/96 inch."""

    def __init__(self, scene: Scene, look: Look, title: str, families: tuple[str, str]) -> None:
        serif, sans = families
        self._font = QFont(sans)
        self._font.setPixelSize(13)
        self._title_font = QFont(serif)
        self._title_font.setPixelSize(30)
        self._title = title
        self._look = Look(look.theme, look.notation, 1.0, look.flipped)
        self._painter = MapPainter(scene, self._look, self._font)
        self._title_height = QFontMetricsF(self._title_font).height() * 1.6
        left, top, width, height = scene.bounds
        least = QFontMetricsF(self._title_font).horizontalAdvance(title) + 80
        self._width = max(width, least, _LEAST_WIDTH)
        self._signs = SignWords(self._look, QFontMetricsF(self._font), _entries(scene))
        self._inner = self._width - 2 * _MARGIN
        self._head = self._title_height + self._signs.height(self._inner) + _MARGIN / 2
        self._plan_height = height + self._painter.header_height
        self._view = View(1.0, left, top - self._painter.header_height)

    def svg(self) -> bytes:
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        generator = QSvgGenerator()
        generator.setOutputDevice(buffer)
        size = QSize(round(self._width), round(self._head + self._plan_height))
        generator.setSize(size)
        generator.setViewBox(QRectF(0, 0, size.width(), size.height()))
        generator.setTitle(self._title)
        generator.setResolution(_DOTS_AN_INCH)
        self._draw(QPainter(generator))
        return _with_fallback(bytes(buffer.data().data()), self._title_font, self._font)

    def pdf(self) -> bytes:
        buffer = QBuffer()
        buffer.open(QIODevice.OpenModeFlag.WriteOnly)
        writer = QPdfWriter(buffer)
        writer.setResolution(_DOTS_AN_INCH)
        writer.setTitle(self._title)
        writer.setCreator("Stemline")
        width, height = self._width, self._head + self._plan_height
        share = min(1.0, _LARGEST_PAGE / (max(width, height) * _POINTS_A_PIXEL))
        points = QSizeF(width, height) * (_POINTS_A_PIXEL * share)
        page = QPageSize(points, QPageSize.Unit.Point, "", QPageSize.SizeMatchPolicy.ExactMatch)
        writer.setPageLayout(QPageLayout(page, QPageLayout.Orientation.Portrait, QMarginsF()))
        painter = QPainter(writer)
        painter.scale(share, share)
        self._draw(painter)
        return bytes(buffer.data().data())

    def _draw(self, painter: QPainter) -> None:
        theme = self._look.theme
        height = self._head + self._plan_height
        painter.fillRect(QRectF(0, 0, self._width, height), QColor(theme.paper))
        painter.setFont(self._title_font)
        painter.setPen(QColor(theme.ink))
        box = QRectF(_MARGIN, 0, self._inner, self._title_height)
        painter.drawText(box, Qt.AlignmentFlag.AlignVCenter, self._title)
        painter.setFont(self._font)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.save()
        painter.translate(_MARGIN, self._title_height)
        self._signs.paint(painter, self._inner)
        painter.restore()
        painter.translate(0, self._head)
        size = (self._width, self._plan_height)
        self._painter.paint(painter, self._view, size, Marks(), exact=True)
        painter.end()


def _entries(scene: Scene) -> list[tuple[str, str]]:
    """The signs that are in the drawing; nothing is chosen or found in a file."""
    left_out = {"found", "chosen"}
    if not scene.layout.folded.any():
        left_out.add("folded")
    if not any(pen == CLOSING for tile in scene.tiles for pen, _path in tile.paths):
        left_out.add("closing")
    return [entry for entry in ENTRIES if entry[0] not in left_out]


def _with_fallback(svg: bytes, title: QFont, other: QFont) -> bytes:
    """Name a general family behind each, for who has not got the font (SVG Tiny 1.2, 10.7)."""
    for font, general in ((title, "serif"), (other, "sans-serif")):
        name = escape(font.family(), quote=True)
        wanted = f'font-family="{name}, {general}"'
        svg = svg.replace(f'font-family="{name}"'.encode(), wanted.encode())
    return svg
