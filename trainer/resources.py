"""Where the files that are shipped with the program lie.

In a checkout `resources/` and `repertoires/` stand beside the package; in an installed wheel they
are inside it, under `trainer/_data`.
"""

from __future__ import annotations

from pathlib import Path

from trainer.errors import ResourceMissingError

_PACKAGE = Path(__file__).resolve().parent


def _locate(folder: str, parts: tuple[str, ...], package: Path) -> Path:
    candidates = [base.joinpath(folder, *parts) for base in (package / "_data", package.parent)]
    for candidate in candidates:
        if candidate.exists():
            return candidate
    wanted = "/".join((folder, *parts))
    places = " or ".join(str(candidate) for candidate in candidates)
    raise ResourceMissingError(
        f"{wanted}, which is shipped with Stemline, is neither {places}; "
        "install Stemline again or restore the file."
    )


def resource_path(*parts: str, package: Path = _PACKAGE) -> Path:
    """Return the path of a file or folder under `resources/`, such as `("pieces",)`.

    `package` is the folder of the installed package. Raises `ResourceMissingError` when the file
    is in neither place.
    """
    return _locate("resources", parts, package)


def repertoire_path(name: str, package: Path = _PACKAGE) -> Path:
    """Return the path of a shipped demo file under `repertoires/`, such as `demo-games.pgn`.

    Raises `ResourceMissingError` when the file is in neither place.
    """
    return _locate("repertoires", (name,), package)
