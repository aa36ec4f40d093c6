"""Ends a test that hangs. It measures no speed: what is given to it takes well under a second, and what hangs
takes for ever.
"""

from __future__ import annotations

import signal
from collections.abc import Iterator
from contextlib import contextmanager

SECONDS = 20.0
"""s of processor time."""


@contextmanager
def ends() -> Iterator[None]:
    """Raises where what is inside takes more processor time."""

    def stop(*_):
        raise AssertionError(f"no end within {SECONDS:g} s of processor time")

    before = signal.signal(signal.SIGPROF, stop)
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0.0)
        signal.signal(signal.SIGPROF, before)
