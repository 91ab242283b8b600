"""Engines for tests: the real Stockfish, and programs that misbehave in one way each."""

from __future__ import annotations

import contextlib
import os
import shutil
import sys
from pathlib import Path
from typing import Final

#: Debian keeps it in /usr/games, which is not on every PATH.
_FOUND: Final = shutil.which("stockfish", path=f"{os.environ.get('PATH', '')}:/usr/games")
assert _FOUND is not None, "install stockfish; packaging/test does"
STOCKFISH: Final = Path(_FOUND)

_SCRIPT: Final = """#!{python} -S
import os, signal, sys, time

WAY = {way!r}


def say(text):
    sys.stdout.write(text + "\\n")
    sys.stdout.flush()


def fine(seconds=0.0):
    say("info depth 1 multipv 1 score cp 20 nodes 20 pv e2e4 e7e5")
    time.sleep(seconds)
    say("bestmove e2e4")


if WAY in ("deaf", "clings"):
    for number in (signal.SIGTERM, signal.SIGHUP, signal.SIGINT, signal.SIGPIPE):
        signal.signal(number, signal.SIG_IGN)
if WAY == "ends at once":
    sys.exit(3)
if WAY == "grumbles":
    sys.stderr.write("x" * 3_000_000)
for line in sys.stdin:
    word = line.split()[0] if line.split() else ""
    if word == "uci":
        if WAY == "no handshake":
            continue
        if WAY == "flood at the handshake":
            while True:
                say("\\n".join(["id name Flood"] * 500))
        say("id name Fake " + WAY)
        say("option name Hash type spin default 16 min 1 max 64")
        say("uciok")
    elif word == "isready":
        say("readyok")
    elif word == "quit" and WAY not in ("deaf", "clings"):
        break
    elif word == "go":
        if WAY == "crash":
            os._exit(11)
        elif WAY in ("silence", "deaf"):
            while True:
                time.sleep(60)
        elif WAY == "never done":
            say("info depth 1 multipv 1 score cp 20 nodes 20 pv e2e4 e7e5")
            while True:
                time.sleep(60)
        elif WAY == "flood":
            while True:
                # Many at once, so that it is a flood on a busy machine too.
                line = "info depth 1 multipv 1 score cp 20 nodes 20 pv e2e4 e7e5"
                say("\\n".join([line] * 500))
        elif WAY == "endless line":
            while True:
                sys.stdout.write("info string " + "x" * 10_000)
                sys.stdout.flush()
        elif WAY == "illegal best move":
            say("info depth 1 multipv 1 score cp 20 nodes 20 pv e2e4 e7e5")
            say("bestmove e2e5")
        elif WAY == "illegal line":
            say("info depth 1 multipv 1 score cp 20 nodes 20 pv e2e4 e7e4")
            say("bestmove e2e4")
        elif WAY == "no move":
            say("bestmove (none)")
        elif WAY == "garbage":
            sys.stdout.buffer.write(bytes(range(128, 256)) + b"\\n")
            say("<html>not found</html>")
            say("info depth x score cp y pv")
            say("bestmove")
        else:
            fine()
while WAY == "clings":
    time.sleep(60)
"""

HONEST: Final = "honest"


def fake_engine(folder: Path, way: str) -> Path:
    """A program that speaks UCI up to the point where it misbehaves in this way."""
    path = folder / f"engine-{way.replace(' ', '-')}"
    path.write_text(_SCRIPT.format(python=sys.executable, way=way), encoding="utf-8")
    path.chmod(0o755)
    return path


def _status(pid: int | str) -> tuple[str, str, int] | None:
    """Name, state and parent of a process, by proc(5); None where it is gone."""
    try:
        text = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    except (FileNotFoundError, ProcessLookupError):
        return None
    name, _, rest = text.partition("(")[2].rpartition(")")
    state, parent = rest.split()[:2]
    return name, state, int(parent)


def is_running(pid: int) -> bool:
    """Whether a process is there, and not as a zombie."""
    status = _status(pid)
    return status is not None and status[1] != "Z"


def children(pid: int, *, zombies: bool = False) -> dict[int, str]:
    """The children of a process that run, or those that are zombies, with their names."""
    found = {}
    for folder in Path("/proc").iterdir():
        status = _status(folder.name) if folder.name.isdecimal() else None
        if status is not None and status[2] == pid and (status[1] == "Z") == zombies:
            found[int(folder.name)] = status[0]
    return found


def commands() -> list[str]:
    """The command lines of all processes."""
    found = []
    for folder in Path("/proc").iterdir():
        if folder.name.isdecimal():
            with contextlib.suppress(OSError):
                words = (folder / "cmdline").read_bytes().replace(b"\0", b" ")
                found.append(words.decode("utf-8", "replace"))
    return found
