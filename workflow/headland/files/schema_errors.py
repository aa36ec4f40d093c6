"""Where a settings file disagrees with its JSON Schema: one plain error each, with the line and what is
allowed.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Mapping
from functools import cache
from zoneinfo import available_timezones

import jsonschema

from headland.base.errors import UserError
from headland.base.words import did_you_mean
from headland.files.yaml_files import Document, dotted

TYPES = {
    "object": "keys of its own",
    "array": "a list",
    "string": "text",
    "number": "a number",
    "integer": "a whole number",
    "boolean": "true or false",
}
LIMITS = {
    "minimum": "at least",
    "maximum": "at most",
    "exclusiveMinimum": "more than",
    "exclusiveMaximum": "less than",
}
EXAMPLES = {
    "utc_offset": 'for example "+01:00"',
    "shift": 'for example "-01:00:00"',
    "delimiter": 'for example "," or whitespace',
}


def schema_errors(
    document: Document, schema: Mapping, values: object, prefix: tuple = ()
) -> Iterator[UserError]:
    """Every disagreement of `values` with a schema. prefix: the path of the values in the document."""
    faults = _Validator(schema, format_checker=_formats()).iter_errors(values)
    for fault in sorted(faults, key=lambda fault: [str(part) for part in fault.absolute_path]):
        yield from _plain(document, fault, prefix)


def fits(schema: Mapping, values: object) -> bool:
    """Whether values agree with a schema."""
    return _Validator(schema).is_valid(values)


def shown(value: object) -> str:
    """A value as the user would recognise it, shortened."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


@cache
def _timezones() -> set[str]:
    """Names of time zones. To list them, the library opens each of its files."""
    return available_timezones()


def _formats() -> jsonschema.FormatChecker:
    checker = jsonschema.FormatChecker(formats=())

    @checker.checks("timezone")
    def _(value) -> bool:
        return not isinstance(value, str) or value in _timezones()

    @checker.checks("regex")
    def _(value) -> bool:
        try:
            return not isinstance(value, str) or re.compile(value).groups >= 1
        except (re.error, RecursionError, OverflowError):
            return False

    return checker


def _is_whole(_, value: object) -> bool:
    """A JSON Schema's whole number may be 1.0, which can't count lines."""
    return isinstance(value, int) and not isinstance(value, bool)


_Validator = jsonschema.validators.extend(
    jsonschema.Draft202012Validator,
    type_checker=jsonschema.Draft202012Validator.TYPE_CHECKER.redefine("integer", _is_whole),
)


def _plain(document: Document, fault: jsonschema.ValidationError, prefix: tuple) -> Iterator[UserError]:
    path = (*prefix, *fault.absolute_path)
    kind = "propertyNames" if "propertyNames" in fault.schema_path else str(fault.validator)
    if kind in _OF_SEVERAL:
        yield from _OF_SEVERAL[kind](document, fault, path)
    elif kind == "anyOf":
        yield from _of_nearest_branch(document, fault, path, prefix)
    else:
        found = f"{dotted(path)} is {'empty' if kind == 'minProperties' else shown(fault.instance)}"
        yield document.error(path, found, _wanted(kind, fault, path))


def _unknown_keys(document: Document, fault, path: tuple) -> Iterator[UserError]:
    allowed = fault.schema.get("properties", {})
    for name in fault.instance:
        if name not in allowed:
            wanted = f"one of {', '.join(allowed)}{did_you_mean(name, allowed)}"
            yield document.error((*path, str(name)), f"unknown key {dotted((*path, name))}", wanted)


def _missing_keys(document: Document, fault, path: tuple) -> Iterator[UserError]:
    for name in fault.validator_value:
        if name not in fault.instance:
            wanted = _described(fault.schema.get("properties", {}).get(name, {}))
            yield document.error(path, f"{dotted((*path, name))} is missing", wanted)


def _wrong_name(document: Document, fault, path: tuple) -> Iterator[UserError]:
    found = f"the name {shown(fault.instance)} under {dotted(path)}"
    wanted = "letters, digits, - and _, beginning with a letter"
    yield document.error((*path, str(fault.instance)), found, wanted)


_OF_SEVERAL: Mapping[str, Callable[..., Iterator[UserError]]] = {
    "additionalProperties": _unknown_keys,
    "required": _missing_keys,
    "propertyNames": _wrong_name,
}


def _wanted(kind: str, fault: jsonschema.ValidationError, path: tuple) -> str:
    """What is allowed instead of a single value."""
    hint = f" ({fault.schema['description']})" if "description" in fault.schema else ""
    allowed = fault.validator_value
    if kind == "enum":
        return f"{' or '.join(map(shown, allowed))}{did_you_mean(fault.instance, allowed)}"
    if kind == "type":
        return (
            " or ".join(TYPES[name] for name in ([allowed] if isinstance(allowed, str) else allowed)) + hint
        )
    if kind in LIMITS:
        return f"{LIMITS[kind]} {allowed:g}{hint}"
    if kind == "format" and allowed == "timezone":
        guess = did_you_mean(fault.instance, _timezones())
        return f"an IANA time zone such as Europe/Zurich or UTC{guess}"
    if kind == "format":
        return "a regular expression with one group in parentheses"
    if kind == "minProperties":
        return "at least one entry"
    example = EXAMPLES.get(str(path[-1]) if path else "", "")
    return (hint.strip(" ()") or "another form") + (f", {example}" if example else "")


def _of_nearest_branch(document: Document, fault, path: tuple, prefix: tuple) -> Iterator[UserError]:
    """The errors of the reading of a key that fits best, so that a person reads one complaint, not all of
    them.
    """
    branches = fault.validator_value
    if all(isinstance(branch, Mapping) and set(branch) <= {"required"} for branch in branches):
        found = f"{dotted(path)} has {', '.join(map(str, fault.instance)) or 'nothing'}"
        wanted = " or ".join(" and ".join(branch["required"]) for branch in branches)
        yield document.error(path, found, wanted)
        return
    errors: dict[int, list] = {}
    for inner in fault.context:
        errors.setdefault(inner.schema_path[0], []).append(inner)
    if path[-1:] == ("time",) and isinstance(fault.instance, Mapping):
        best = _branch_of_most_keys(set(fault.instance), branches)
    else:
        best = min(
            errors, key=lambda index: (any(map(_is_of_another_type, errors[index])), len(errors[index]))
        )
    for inner in errors.get(best, fault.context[:1]):
        yield from _plain(document, inner, prefix)


def _is_of_another_type(fault: jsonschema.ValidationError) -> bool:
    return fault.validator == "type" and not fault.path


def _branch_of_most_keys(given: set, branches: list) -> int:
    """The branch whose keys are most like the given ones."""
    overlap = [
        len(given & set(branch.get("properties", {}))) - 0.1 * len(set(branch["required"]) - given)
        for branch in branches
    ]
    return overlap.index(max(overlap))


def _described(schema: Mapping) -> str:
    if "enum" in schema:
        return " or ".join(map(shown, schema["enum"]))
    return schema.get("description", "a value")
