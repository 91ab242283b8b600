"""A real browser without a window, driven through its debugging pipe (Chrome DevTools Protocol).

Messages are JSON objects ended by a zero byte, on file descriptors 3 and 4 of the browser.
"""

from __future__ import annotations

import json
import os
import select
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

_NAMES = ("chromium", "chromium-browser", "google-chrome")
_SECONDS = 60.0
#: Puts two pipes on the descriptors 3 and 4 and becomes the program. Moved out of the way first: a
#: pipe may itself have got one of these numbers.
_ARRANGE = """
import fcntl, os, sys
pipes = [fcntl.fcntl(int(number), fcntl.F_DUPFD, 20) for number in sys.argv[1:3]]
for place, pipe in enumerate(pipes, start=3):
    os.dup2(pipe, place)
os.execv(sys.argv[3], sys.argv[3:])
"""
#: Key names of the DOM with their virtual key codes.
_CODES = {"ArrowLeft": 37, "ArrowUp": 38, "ArrowRight": 39, "ArrowDown": 40}
_CODES |= {"Home": 36, "End": 35, "Tab": 9, "Enter": 13, "v": 86}


class Browser:
    """One page of a running browser."""

    def __init__(self, reading: int, writing: int) -> None:
        self._reading, self._writing = reading, writing
        self._buffer = b""
        self._number = 0
        self._session = ""
        self.events: list[dict[str, Any]] = []

    def open(self, address: str) -> None:
        """Open a page and wait until it is loaded."""
        target = self._ask("Target.createTarget", {"url": "about:blank"})["targetId"]
        attached = self._ask("Target.attachToTarget", {"targetId": target, "flatten": True})
        self._session = attached["sessionId"]
        for domain in ("Page", "Runtime", "Log", "Network"):
            self._ask(f"{domain}.enable", {})
        self._ask("Page.navigate", {"url": address})
        end = time.monotonic() + _SECONDS
        while not any(event["method"] == "Page.loadEventFired" for event in self.events):
            self._take(end)

    def value(self, expression: str) -> Any:
        """What a JavaScript expression gives on the page."""
        wanted = {"expression": expression, "returnByValue": True}
        result = self._ask("Runtime.evaluate", wanted)
        if "exceptionDetails" in result:
            raise AssertionError(result["exceptionDetails"])
        return result["result"].get("value")

    def press(self, key: str) -> None:
        """Press and release a key."""
        text = key if len(key) == 1 else "\r" if key == "Enter" else ""
        for kind in ("keyDown", "keyUp"):
            event = {"type": kind, "key": key, "windowsVirtualKeyCode": _CODES[key]}
            if text and kind == "keyDown":
                event["text"] = text
            self._ask("Input.dispatchKeyEvent", event)

    def click(self, selector: str) -> None:
        """Click in the middle of an element."""
        x, y = self.value(
            f"(() => {{ const e = document.querySelector({json.dumps(selector)});"
            " e.scrollIntoView({block: 'center'}); const b = e.getBoundingClientRect();"
            " return [b.x + b.width / 2, b.y + b.height / 2]; })()"
        )
        for kind in ("mousePressed", "mouseReleased"):
            event = {"type": kind, "x": x, "y": y, "button": "left", "clickCount": 1}
            self._ask("Input.dispatchMouseEvent", event)

    def ask(self, method: str, parameters: dict[str, Any]) -> dict[str, Any]:
        """Any other command of the protocol."""
        return self._ask(method, parameters)

    def faults(self) -> list[str]:
        """Errors that the page has logged, and addresses that it asked for beyond itself."""
        said = []
        for event in self.events:
            if event["method"] == "Runtime.exceptionThrown":
                said.append(str(event["params"]["exceptionDetails"]))
            elif event["method"] == "Log.entryAdded":
                said.append(str(event["params"]["entry"]["text"]))
            elif event["method"] == "Network.requestWillBeSent":
                url = event["params"]["request"]["url"]
                if not url.startswith("file:"):
                    said.append(f"asked for {url}")
        return said

    def _ask(self, method: str, parameters: dict[str, Any]) -> dict[str, Any]:
        self._number += 1
        message = {"id": self._number, "method": method, "params": parameters}
        if self._session:
            message["sessionId"] = self._session
        os.write(self._writing, json.dumps(message).encode() + b"\0")
        end = time.monotonic() + _SECONDS
        while True:
            answer = self._take(end)
            if answer.get("id") == self._number:
                if "error" in answer:
                    raise AssertionError(f"{method}: {answer['error']}")
                result: dict[str, Any] = answer["result"]
                return result

    def _take(self, end: float) -> dict[str, Any]:
        while b"\0" not in self._buffer:
            ready, _, _ = select.select([self._reading], [], [], max(0.0, end - time.monotonic()))
            data = os.read(self._reading, 1 << 16) if ready else b""
            if not data:
                raise AssertionError("the browser does not answer")
            self._buffer += data
        text, _, self._buffer = self._buffer.partition(b"\0")
        message: dict[str, Any] = json.loads(text)
        if "method" in message:
            self.events.append(message)
        return message


@contextmanager
def browser() -> Iterator[Browser]:
    """A browser as long as the context lasts."""
    program = next((path for name in _NAMES if (path := shutil.which(name))), None)
    assert program, "a browser is needed: sudo apt-get install -y chromium"
    to_browser, from_us = os.pipe()
    to_us, from_browser = os.pipe()
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        process = subprocess.Popen(
            [
                *(sys.executable, "-c", _ARRANGE, str(to_browser), str(from_browser)),
                program,
                *("--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run"),
                *("--disable-dev-shm-usage", "--disable-extensions", "--disable-sync"),
                *("--disable-background-networking", "--disable-component-update"),
                *("--remote-debugging-pipe", "--window-size=1100,800"),
                f"--user-data-dir={profile}",
            ],
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            pass_fds=(to_browser, from_browser),
        )
        os.close(to_browser)
        os.close(from_browser)
        try:
            yield Browser(to_us, from_us)
        finally:
            os.close(from_us)
            os.close(to_us)
            process.terminate()
            try:
                process.wait(10)
            except subprocess.TimeoutExpired:
                process.kill()
                process.wait()
