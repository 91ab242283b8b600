"""Writing a lesson to a file, as what the ending of its name says."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

from trainer.diagram import diagram_svg
from trainer.lesson.handout.html import lesson_html
from trainer.lesson.handout.model import HandoutError, Lesson, Paper
from trainer.lesson.handout.paint import DiagramPainter
from trainer.lesson.handout.pdf import lesson_pdf
from trainer.lesson.handout.plain import lesson_epd, lesson_pgn
from trainer.storage.atomic import write_atomically

#: Side of a picture in pixels.
PICTURE_SIZE = 640

#: Endings of file names that a lesson can be written as.
ENDINGS = (".pdf", ".html", ".pgn", ".epd", ".png", ".svg")


def check_ending(path: Path) -> None:
    """Raises `HandoutError` where the ending of a file name is none of `ENDINGS`."""
    if path.suffix.lower() not in ENDINGS:
        raise HandoutError(
            f"The handout {path} cannot be written: end its name in "
            f"{', '.join(ENDINGS[:-1])} or {ENDINGS[-1]}."
        )


def check_spared(path: Path, spare: Sequence[Path]) -> None:
    """Raises `HandoutError` where `path` is one of the files that a lesson is made of."""
    for source in spare:
        if path.resolve() == source.resolve() or (path.exists() and path.samefile(source)):
            raise HandoutError(
                f"{path} is what the handout is made of and would be lost: choose another name."
            )


def write_lesson(
    path: Path, lesson: Lesson, paper: Paper = Paper.A4, *, spare: Sequence[Path] = ()
) -> list[Path]:
    """Write the lesson, and return the files written: several where there are several pictures.

    Pictures are numbered, `lesson-1.png` and so on, where there is more than one. A file that was
    there before is replaced, a PGN file stays beside it as `.bak`; those of `spare`, which the
    lesson was made of, are never touched. Raises
    `HandoutError` for another ending, for a lesson with nothing to write in that form, and where
    a file cannot be written.
    """
    check_ending(path)
    check_spared(path, spare)
    kind = path.suffix.lower()
    writers: dict[str, Callable[[], bytes]] = {
        ".pdf": lambda: lesson_pdf(lesson, paper),
        ".html": lambda: lesson_html(lesson).encode(),
        ".pgn": lambda: lesson_pgn(lesson).encode(),
        ".epd": lambda: lesson_epd(lesson).encode(),
    }
    if kind in writers:
        data = writers[kind]()
        if not data:
            raise HandoutError(
                f"The lesson “{lesson.title}” holds nothing that {path.name} could show: "
                "choose another form, such as .pdf."
            )
        _write(path, data)
        return [path]
    return _write_pictures(path, lesson, kind)


def _write_pictures(path: Path, lesson: Lesson, kind: str) -> list[Path]:
    diagrams = lesson.diagrams()
    if not diagrams:
        raise HandoutError(
            f"The lesson “{lesson.title}” holds no diagram: choose another form than {kind}."
        )
    painter = DiagramPainter() if kind == ".png" else None
    written = []
    for number, diagram in enumerate(diagrams, start=1):
        place = path.with_stem(f"{path.stem}-{number}") if len(diagrams) > 1 else path
        if painter is not None:
            data = painter.png(diagram, PICTURE_SIZE)
        else:
            data = diagram_svg(
                diagram.board,
                size=PICTURE_SIZE,
                flipped=diagram.flipped,
                marks=diagram.marks,
                arrows=diagram.arrows,
            ).encode()
        _write(place, data)
        written.append(place)
    return written


def _write(path: Path, data: bytes) -> None:
    try:
        write_atomically(path, data, keep_backup=path.suffix.lower() == ".pgn")
    except OSError as error:
        raise HandoutError(
            f"The handout cannot be written to {path} ({error.strerror or error}): "
            "choose another place."
        ) from error


def file_name(title: str) -> str:
    """A name for a file made from a title, without its ending."""
    return re.sub(r"[^\w]+", "-", title).strip("-").lower()[:60] or "lesson"
