"""A private X display for tests and benchmarks that need a real window on a real screen."""

from __future__ import annotations

import os
import struct
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
from PIL import Image

START_SECONDS = 10


@dataclass(frozen=True)
class Display:
    """A running X server: its `name` as in the variable DISPLAY, such as `:3`."""

    name: str
    frame_buffer: Path

    def pixels(self) -> npt.NDArray[np.uint8]:
        """What is on the screen now: rows × columns × (red, green, blue), 0 to 255."""
        # The server keeps its screen in a file in the format of xwd: a header of 25 numbers (X11's
        # XWDFile.h), a window name up to `header_size`, 12 bytes a colour, then the pixels.
        data = self.frame_buffer.read_bytes()
        header = struct.unpack(">25I", data[:100])
        header_size, width, height, least_first = header[0], header[4], header[5], not header[7]
        bits, line_bytes, colours = header[11], header[12], header[19]
        if bits != 32:
            raise ValueError(f"the screen has {bits} bits a pixel, not 32")
        start = header_size + 12 * colours
        raw = np.frombuffer(data, np.uint8, height * line_bytes, start)
        quads = raw.reshape(height, line_bytes // 4, 4)[:, :width]
        return quads[..., 2::-1].copy() if least_first else quads[..., 1:].copy()

    def save_picture(self, path: Path) -> None:
        """Write what is on the screen now as a PNG."""
        Image.fromarray(self.pixels()).save(path)


@contextmanager
def private_display(size: str = "1600x1200x24") -> Iterator[Display]:
    """An X server as long as the context lasts. `size` is width × height × depth.

    Raises `FileNotFoundError` without Xvfb, `RuntimeError` when it does not start.
    """
    with tempfile.TemporaryDirectory(prefix="stemline-display-") as folder:
        read_end, write_end = os.pipe()
        with os.fdopen(read_end) as announced:
            command = ["Xvfb", "-displayfd", str(write_end), "-screen", "0", size]
            command += ["-nolisten", "tcp", "-fbdir", folder]
            try:
                server = subprocess.Popen(
                    command,
                    pass_fds=(write_end,),
                    stdout=subprocess.DEVNULL,
                    stderr=subprocess.DEVNULL,
                )
            finally:
                os.close(write_end)
            # A server that dies closes the pipe, so this never waits for nothing.
            number = announced.readline().strip()
        try:
            if not number:
                raise RuntimeError(f"Xvfb did not start: exit status {server.wait(START_SECONDS)}")
            yield Display(f":{number}", Path(folder, "Xvfb_screen0"))
        finally:
            server.terminate()
            server.wait(START_SECONDS)
