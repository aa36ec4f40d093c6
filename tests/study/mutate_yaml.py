"""Changes to YAML and JSON files: of a value, a key, a line."""

from __future__ import annotations

import copy
import random
import re

import yaml

from study.mutate_text import NASTY, bytes_of, text_of

NASTY_YAML = (
    None,
    True,
    False,
    0,
    -1,
    1,
    2,
    1e308,
    -1e308,
    0.5,
    10**17,
    10**18 * 9,
    float("inf"),
    float("nan"),
    [],
    {},
    [[]],
    {"": ""},
    {"a": {"b": {"c": 1}}},
    [1, "a", None],
    {1: 2},
    *NASTY,
)
ODD_VALUES = (
    "!!python/object/apply:os.system [x]",
    "!!binary aGk=",
    "!x y",
    "&a [*a]",
    "*a",
    "[" * 100 + "]" * 100,
    "{a: " * 60,
    "|",
    ">-",
    "? a",
    "- - - -",
    "<<: *x",
    "!!timestamp 2025-01-01",
    "!!set {a}",
    "0o17",
    ".inf",
    "1_0",
    "190:20",
    "!!float x",
)
"""Values that YAML gives a meaning of its own."""
ODD_TEXTS = (
    '"\\ud800"',
    '"\\x1b[2J"',
    '"\\u202e"',
    '"\\0"',
    '"\\N\\_\\L\\P"',
    "'",
    '"',
    '"\\U0010FFFF"',
    "\u202e",
    "\x9b",
)


def settings(raw: bytes, draw: random.Random) -> bytes:
    """One change of a YAML file: of a value or key anywhere in its tree, or of a line."""
    if draw.random() < 0.6:
        try:
            changed = _tree_changed(raw, draw)
        except (yaml.YAMLError, RecursionError, ValueError, TypeError, AttributeError):
            changed = None
        if changed is not None:
            return changed
    return _line_changed(raw, draw)


def _tree_changed(raw: bytes, draw: random.Random) -> bytes | None:
    """With a value or key of the tree changed; None where it has none."""
    tree = yaml.safe_load(raw)
    places = list(_places(tree))
    if not places:
        return None
    holder, key = draw.choice(places)
    match draw.randrange(6):
        case 0 | 1 | 2:
            holder[key] = copy.deepcopy(draw.choice(NASTY_YAML))
        case 3:
            other, twin = draw.choice(places)
            holder[key] = copy.deepcopy(other[twin])
        case 4 if isinstance(holder, dict):
            name = draw.choice((draw.choice(NASTY), str(key)[:-1], str(key).upper()))
            holder[name] = holder.pop(key)
        case _:
            del holder[key]
    return bytes_of(yaml.safe_dump(tree, sort_keys=False, allow_unicode=draw.random() < 0.5))[:400_000]


def _line_changed(raw: bytes, draw: random.Random) -> bytes:
    lines = text_of(raw).split("\n")
    i = draw.randrange(len(lines))
    key, colon, value = lines[i].partition(":")
    match draw.randrange(9):
        case 0 | 1:
            lines[i] = f"{key}: {draw.choice(NASTY)}"
        case 2:
            lines[i] = f"{key}: {draw.choice(ODD_VALUES)}"
        case 3:
            lines[i] = " " * draw.choice((1, 2, 5)) + lines[i]
        case 4:
            lines[i] = lines[i].lstrip()
        case 5:
            lines.insert(i, lines[draw.randrange(len(lines))])
        case 6:
            del lines[i]
        case 7:
            lines[i] = f"{key}: " + draw.choice(ODD_TEXTS)
        case 8:
            lines[i] = f"{draw.choice(NASTY)}{colon}{value}"
    return bytes_of("\n".join(lines))[:400_000]


def _places(tree) -> list[tuple]:
    found, waiting = [], [tree]
    while waiting and len(found) < 5000:
        here = waiting.pop()
        keys = list(here) if isinstance(here, dict) else range(len(here)) if isinstance(here, list) else ()
        for key in keys:
            found.append((here, key))
            waiting.append(here[key])
    return found


def json_text(raw: bytes, draw: random.Random) -> bytes:
    """One change of a JSON text: of a value or name in it."""
    found = list(re.finditer(rb'"[^"]*"|\b\d+\b|\[|\{|null|true', raw))
    value = draw.choice(
        (
            b"null",
            b"1e999",
            b"-1",
            b"[]",
            b"{}",
            b'""',
            b"NaN",
            b'"\\ud800"',
            b'"\\u202e\\u001b"',
            b"[" * 2000,
            b"1" * 6000,
            b'{"a":' * 2000,
            b'["a", 1, null]',
            b'{"path": 5}',
            b"true",
        )
    )
    if not found:
        return value
    part = draw.choice(found)
    return raw[: part.start()] + value + raw[part.end() :]
