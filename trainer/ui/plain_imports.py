"""Imports at their usual speed while Qt is loaded.

PySide reads and tokenizes the source of each module that is imported after it, to learn whether
the module might switch on one of PySide's own features (``from __feature__ import …``). That took
some 8 % of the processor's time from Qt to the first paint and a tenth of that of later imports,
which hold up the window. This program uses none of those features, so nothing is to be learnt.
"""

from __future__ import annotations

import PySide6.QtCore  # noqa: F401  (brings the module that is changed here)

#: What PySide asks of each module that was imported. Private, so it may be gone one day; the
#: program is then only slower, and a test says so.
_QUESTION = "_mod_uses_pyside"


def spare_sources() -> None:
    """From now on no module is searched for PySide's features."""
    try:
        from shibokensupport import feature
    except ImportError:
        return
    if hasattr(feature, _QUESTION):
        setattr(feature, _QUESTION, lambda _module: False)
