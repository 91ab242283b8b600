"""Light or dark, and how large: what the settings and the system say, put on the application."""

from __future__ import annotations

from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtWidgets import QApplication

from trainer.storage.settings import Settings
from trainer.ui.theme import DARK, LIGHT, Theme, application_palette, application_stylesheet


class Appearance(QObject):
    """Chooses the theme and applies it to the whole application."""

    #: The system went light or dark.
    changed = Signal()

    def __init__(self, app: QApplication) -> None:
        super().__init__(app)
        self._app = app
        self._applied: tuple[Theme, float] | None = None
        app.styleHints().colorSchemeChanged.connect(lambda _scheme: self.changed.emit())

    def theme(self, settings: Settings) -> Theme:
        """The theme that these settings mean now."""
        if settings.appearance == "system":
            dark = self._app.styleHints().colorScheme() == Qt.ColorScheme.Dark
            return DARK if dark else LIGHT
        return DARK if settings.appearance == "dark" else LIGHT

    def apply(self, settings: Settings) -> Theme:
        """Put theme and scale on the application; the theme."""
        theme = self.theme(settings)
        if self._applied != (theme, settings.scale):
            self._applied = (theme, settings.scale)
            self._app.setPalette(application_palette(theme))
            self._app.setStyleSheet(application_stylesheet(theme, settings.scale))
        return theme
