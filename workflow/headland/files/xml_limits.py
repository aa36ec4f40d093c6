"""Limits for untrusted XML, checked while it is parsed and before anything is built from it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import BinaryIO
from xml.parsers import expat

DEEPEST = 50
"""Levels of nesting: tracks and workbooks have about ten."""
LONGEST_TAG = 200_000
"""Bytes without the end of a tag: a tag of many attributes, or a text longer than any cell, would be held
whole.
"""
PIECE = 65_536


class BeyondLimits(Exception):
    """What is wrong with a document, in a few words, and the line."""

    def __init__(self, found: str, line: int | None = None):
        super().__init__(found)
        self.found, self.line = found, line


@dataclass
class LimitedParser:
    """Parses a document piece by piece. Raises BeyondLimits; a document type, and so any entity, is refused.

    most: elements that it may have. start, end, letters: called as expat's handlers, after the limits were
    checked.
    """

    most: int
    start: Callable[[str, Mapping[str, str]], None] = lambda tag, attributes: None
    end: Callable[[str], None] = lambda tag: None
    letters: Callable[[str], None] | None = None
    namespaces: bool = False
    elements: int = field(default=0, init=False)
    depth: int = field(default=0, init=False)

    def __post_init__(self) -> None:
        self.parser = expat.ParserCreate(namespace_separator=" " if self.namespaces else None)
        self.parser.StartDoctypeDeclHandler = self._refuse
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._end
        if self.letters:
            self.parser.CharacterDataHandler = self.letters

    @property
    def line(self) -> int:
        """The line that is being parsed."""
        return self.parser.CurrentLineNumber

    def read(self, stream: BinaryIO) -> None:
        """Parse a document to its end."""
        open_bytes = 0
        try:
            while piece := stream.read(PIECE):
                closed = piece.rfind(b">")
                open_bytes = len(piece) - closed - 1 if closed >= 0 else open_bytes + len(piece)
                if open_bytes > LONGEST_TAG:
                    raise BeyondLimits("a tag or text longer than 200 kB", self.line)
                self.parser.Parse(piece, False)
            self.parser.Parse(b"", True)
        except expat.ExpatError as problem:
            message = expat.errors.messages[problem.code]
            raise BeyondLimits(f"no XML ({message})", problem.lineno) from None
        except (LookupError, ValueError) as problem:
            raise BeyondLimits(f"an unknown encoding ({str(problem)[:60]})") from None

    def _refuse(self, *_) -> None:
        raise BeyondLimits("a document type or entity", self.line)

    def _start(self, tag: str, attributes: Mapping[str, str]) -> None:
        self.elements += 1
        self.depth += 1
        if self.elements > self.most:
            raise BeyondLimits(f"more than {self.most} elements", self.line)
        if self.depth > DEEPEST:
            raise BeyondLimits("elements nested dozens deep", self.line)
        self.start(tag, attributes)

    def _end(self, tag: str) -> None:
        self.depth -= 1
        self.end(tag)
