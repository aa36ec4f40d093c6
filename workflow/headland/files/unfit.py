"""What the readers of tracks and outlines share: a limit of size, and the error that stops a file."""

from __future__ import annotations

from typing import BinaryIO

from headland.base.findings import Finding

LARGEST = 20_000_000
"""Bytes: a track of a day at one point a second has under 10 MB."""


class Unfit(Exception):
    """What stops the reading of a file."""

    def __init__(self, line: int | None, found: str, expected: str):
        super().__init__(found)
        self.line, self.found, self.expected = line, found, expected

    def finding(self, name: str) -> Finding:
        """As a finding. name: of the file."""
        facts = {"found": self.found, "expected": self.expected}
        return Finding("table-unreadable", file=name, line=self.line, facts=facts)


def content(stream: BinaryIO, most: int | None = None) -> bytes:
    """All bytes of a file. Raises Unfit where there are more than `most` (None: LARGEST)."""
    most = LARGEST if most is None else most
    raw = stream.read(most + 1)
    if len(raw) > most:
        found = f"the file is larger than {most // 1_000_000} MB"
        raise Unfit(None, found, "the walks of a campaign, and nothing else")
    return raw
