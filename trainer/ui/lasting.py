"""What all windows share and may not outlast the application, such as drawn pixmaps."""

from __future__ import annotations

from typing import TypeVar, cast

from PySide6.QtCore import QCoreApplication, QObject

_T = TypeVar("_T")


class _Lasting(QObject):
    """A child of the application, which takes with it all that is kept."""

    def __init__(self, application: QCoreApplication) -> None:
        super().__init__(application)
        self.kept: dict[type, object] = {}


def lasting(kind: type[_T]) -> _T:
    """The one `kind()` of the application, made when it is first asked for."""
    application = QCoreApplication.instance()
    assert application is not None
    kept = (application.findChild(_Lasting) or _Lasting(application)).kept
    if kind not in kept:
        kept[kind] = kind()
    return cast(_T, kept[kind])
