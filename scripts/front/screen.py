"""What the user sees: plain lines and, on a terminal, one line under them that is redrawn in place."""

import contextlib
import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from typing import TextIO


def plain(text: str) -> str:
    """Text on one line, without anything that could steer a terminal.

    Names and cells may come from anywhere.
    """
    return " ".join("".join(c if c.isprintable() else " " for c in text).split())


class Screen:
    """Plain lines; on a terminal also one line under them."""

    def __init__(self, stream: TextIO):
        self.stream = stream
        self.live = stream.isatty() and os.environ.get("TERM", "dumb") != "dumb"
        self.colour = self.live and not os.environ.get("NO_COLOR")
        self.bottom: Callable[[], str] | None = None
        self.lock = threading.Lock()

    def line(self, text: str) -> None:
        with self.lock:
            self.stream.write(("\r\x1b[K" if self.bottom else "") + text + "\n")
            self._draw()

    def beep(self) -> None:
        """Sound the terminal's bell; nothing in a file or a pipe."""
        if self.stream.isatty():
            with self.lock:
                self.stream.write("\a")
                self.stream.flush()

    def lines(self, texts: "list[str]") -> None:
        """What a program of ours said, made safe, with its indentation kept."""
        for text in texts:
            self.line("  " * text.startswith("  ") + plain(text))

    def painted(self, text: str, code: str) -> str:
        return f"\x1b[{code}m{text}\x1b[0m" if self.colour else text

    @contextlib.contextmanager
    def under(self, text: Callable[[], str]) -> Iterator[None]:
        """While this lasts, what `text` returns is shown under the lines, with the time since it began."""
        if not self.live:
            yield
            return
        began, ended = time.monotonic(), threading.Event()
        self.bottom = lambda: f"{text()}  {time.monotonic() - began:.0f} s"

        def redraw() -> None:
            while not ended.wait(0.5):
                with self.lock:
                    self._draw()

        ticker = threading.Thread(target=redraw, daemon=True)
        ticker.start()
        try:
            yield
        finally:
            ended.set()
            ticker.join()
            self.bottom = None
            self.stream.write("\r\x1b[K")
            self.stream.flush()

    def _draw(self) -> None:
        if self.bottom:
            self.stream.write("\r\x1b[K" + self.bottom()[: shutil.get_terminal_size().columns - 1])
        self.stream.flush()
