"""YAML files that a person writes, as values with the line of each key. Nothing in a file is evaluated."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import yaml

from headland.base.errors import UserError, UserErrors, refuse
from headland.base.words import harmful

LARGEST_SETTINGS_FILE = 1_000_000
"""Bytes of a campaign.yaml or layout (guards the YAML reader)."""
MOST_TOKENS = 50_000
"""Parts of a settings file: a campaign of many sets has some thousands (guards time and memory)."""
DEEPEST = 50
"""Levels of nesting: settings have five (guards the YAML reader)."""
_OPENING = (
    yaml.BlockMappingStartToken,
    yaml.BlockSequenceStartToken,
    yaml.FlowMappingStartToken,
    yaml.FlowSequenceStartToken,
)
_CLOSING = (yaml.BlockEndToken, yaml.FlowMappingEndToken, yaml.FlowSequenceEndToken)


class _Loader(yaml.SafeLoader):
    """YAML as people expect it: `01:30` and `2026-05-21` stay text, only true and false are yes and no."""


_Loader.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("null", r"^(?:~|null|Null|NULL|)$", ["~", "n", "N", ""]),
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", list("tTfF")),
    ("int", r"^[-+]?(?:0|[1-9][0-9]{0,17})$", list("-+0123456789")),
    (
        "float",
        r"^[-+]?(?:[0-9]{1,18}\.[0-9]*|\.[0-9]+|[0-9]{1,18}(?=[eE]))(?:[eE][-+]?[0-9]{1,2})?$",
        list("-+0123456789."),
    ),
):
    _Loader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(_pattern), _first)


@dataclass(frozen=True)
class Document:
    """A YAML file as values, with the line of each key."""

    name: str
    values: object
    lines: Mapping[tuple, int]

    def line(self, path: tuple) -> int | None:
        """The line of the innermost part of `path` that the file holds."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)

    def error(self, path: tuple, found: str, expected: str) -> UserError:
        """An error at the line of a key."""
        return UserError(self.name, self.line(path), found, expected)


def dotted(path: tuple) -> str:
    """`sets.heron.files` for a path of keys."""
    return ".".join(str(part) for part in path) or "the file"


def read_yaml(path: Path, name: str) -> Document:
    """Parse one YAML file.

    Raises UserErrors, with the line, where the file is no YAML, repeats a key or uses an alias.
    """
    text = _text(path, name)
    try:
        _refuse_before_building(text, name)
        return _document(text, name)
    except yaml.YAMLError as problem:
        mark = getattr(problem, "problem_mark", None)
        reason = getattr(problem, "problem", None) or str(problem).splitlines()[0]
        raise refuse(
            name,
            mark.line + 1 if mark else None,
            f"not readable as YAML ({reason})",
            'lines such as `title: "Spring practical"`, indented with spaces',
        ) from None
    except RecursionError:
        raise refuse(name, None, "settings nested dozens deep", "a few levels") from None
    except ValueError as problem:
        found = f"a value that can't be read ({problem})"
        raise refuse(name, None, found, "plain text or a number") from None


def _text(path: Path, name: str) -> str:
    if path.stat().st_size > LARGEST_SETTINGS_FILE:
        raise refuse(name, None, "the file is larger than 1 MB", "a settings file of a page or two")
    raw = path.read_bytes()
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        kind = "UTF-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "another encoding, probably Latin-1"
        wanted = "UTF-8: save it again with that encoding"
        raise refuse(name, None, f"the file is saved in {kind}", wanted) from None


def _refuse_before_building(text: str, name: str) -> None:
    """Raise before anything is built from a text with aliases, tags, too many parts or levels.

    A tag could make a number of `.nan`, or text of a date.
    """
    depth = 0
    for count, token in enumerate(yaml.scan(text, Loader=_Loader)):
        if count > MOST_TOKENS:
            line = token.start_mark.line + 1
            raise refuse(
                name, line, f"more than {MOST_TOKENS} keys and values", "a settings file of a page or two"
            )
        if isinstance(token, yaml.TagToken):
            found, wanted = "a tag (!)", "plain text or a number; put text that begins with ! in quotes"
            raise refuse(name, token.start_mark.line + 1, found, wanted)
        if isinstance(token, (yaml.AliasToken, yaml.AnchorToken)):
            wanted = "the value written out; put text that begins with & or * in quotes"
            raise refuse(name, token.start_mark.line + 1, "an anchor or alias (& or *)", wanted)
        depth += isinstance(token, _OPENING) - isinstance(token, _CLOSING)
        if depth > DEEPEST:
            raise RecursionError


def _document(text: str, name: str) -> Document:
    loader = _Loader(text)
    try:
        node = loader.get_single_node()
        lines: dict[tuple, int] = {}
        errors: list[UserError] = []
        _collect_lines(node, (), lines, errors, name)
        if errors:
            raise UserErrors(errors)
        values = loader.construct_document(node) if node is not None else None
        return Document(name, values, lines)
    finally:
        loader.dispose()


def _collect_lines(node, path: tuple, lines: dict, errors: list, name: str) -> None:
    """Note the line of each key below `node`, and an error for each key given twice and each harmful text."""
    if isinstance(node, yaml.MappingNode):
        _collect_lines_of_mapping(node, path, lines, errors, name)
    elif isinstance(node, yaml.SequenceNode):
        for index, value in enumerate(node.value):
            lines[*path, index] = value.start_mark.line + 1
            _collect_lines(value, (*path, index), lines, errors, name)
    elif isinstance(node, yaml.ScalarNode) and harmful(node.value):
        found = f"{dotted(path)} holds the character {harmful(node.value)}"
        wanted = "text of characters that print, none of which changes the direction of reading"
        errors.append(UserError(name, node.start_mark.line + 1, found, wanted))


def _collect_lines_of_mapping(node, path: tuple, lines: dict, errors: list, name: str) -> None:
    seen = set()
    for key, value in node.value:
        line = key.start_mark.line + 1
        if not isinstance(key, yaml.ScalarNode):
            errors.append(UserError(name, line, "a key that is not plain text", "a name, such as `title`"))
            continue
        inner = (*path, key.value)
        if harmful(key.value):
            found = f"a key with the character {harmful(key.value)}"
            errors.append(UserError(name, line, found, "a name of characters that print"))
        if key.value in seen:
            errors.append(UserError(name, line, f"{dotted(inner)} is given twice", "each key once"))
        seen.add(key.value)
        lines[inner] = line
        _collect_lines(value, inner, lines, errors, name)
