"""What PySide makes ready when it is first met, met where nobody waits for it.

The enumerations of a class are made when its name is imported or, where it never is, in the midst
of whatever first comes near it. `fillRect` comes near that of `QGradient`, so painting the first
board took 4 ms longer. A call that gives back some widget looks through all kinds of widget, so
the first such call, when a page is built, took 12 ms longer. Whoever reads a repertoire imports
this module in a worker.
"""

from PySide6.QtGui import QGradient  # noqa: F401
from PySide6.QtWidgets import (  # noqa: F401
    QCalendarWidget,
    QColorDialog,
    QDateTimeEdit,
    QDockWidget,
    QFontComboBox,
    QFontDialog,
    QGraphicsView,
    QHeaderView,
    QInputDialog,
    QLCDNumber,
    QMdiArea,
    QMdiSubWindow,
    QRhiWidget,
    QSlider,
    QTabWidget,
    QTextEdit,
    QWizard,
)
