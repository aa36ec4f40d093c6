"""Reading and checking what a person sets: campaign.yaml, layouts, the register of surface classes.

One of the three modules that touch files. Everything wrong in a file is reported at once, each fault as one plain
line with file, line, key, what was found and what is allowed. Nothing in a file is ever evaluated, and no path in it
may leave the campaign folder.
"""

from __future__ import annotations

import json
import math
import re
import zlib
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from zoneinfo import available_timezones

import jsonschema
import yaml

from headland.base.basics import UserError, UserErrors, config_rows, did_you_mean, harmful
from headland.base.classes import ACTS_ON, BOUNDS, CHOICES, SHARED_BY, SPLIT_PROPERTY, TERMS, TOGETHER

SCHEMAS = Path(__file__).parents[2] / "schemas"
LARGEST_SETTINGS_FILE = 1_000_000
"""Bytes: a campaign.yaml or layout above this is not one (guards the YAML reader)."""

LARGEST_LOGGER_FILE, MOST_FILES = 2_000_000_000, 5_000
"""Bytes of a logger's file (a week at 10 Hz has a fifth of it) and files of a set: beyond them memory or days would be needed."""

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
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:null", re.compile(r"^(?:~|null|Null|NULL|)$"), ["~", "n", "N", ""]
)
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:bool", re.compile(r"^(?:true|True|TRUE|false|False|FALSE)$"), list("tTfF")
)
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:int", re.compile(r"^[-+]?(?:0|[1-9][0-9]{0,17})$"), list("-+0123456789")
)
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:float",
    re.compile(r"^[-+]?(?:[0-9]{1,18}\.[0-9]*|\.[0-9]+|[0-9]{1,18}(?=[eE]))(?:[eE][-+]?[0-9]{1,2})?$"),
    list("-+0123456789."),
)


@dataclass(frozen=True)
class _Document:
    """A YAML file as values, with the line on which each key stands."""

    name: str
    values: object
    lines: Mapping[tuple, int]

    def line(self, path: tuple) -> int | None:
        """The line of the innermost part of `path` that the file holds."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path)


def read_yaml(path: Path, name: str) -> _Document:
    """Parse one YAML file. Raises UserErrors with the line where it is not one, repeats a key or uses an alias."""
    if path.stat().st_size > LARGEST_SETTINGS_FILE:
        raise UserErrors(
            [UserError(name, None, "the file is larger than 1 MB", "a settings file of a page or two")]
        )
    raw = path.read_bytes()
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        kind = "UTF-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "another encoding, probably Latin-1"
        raise UserErrors(
            [UserError(name, None, f"the file is saved in {kind}", "UTF-8: save it again with that encoding")]
        ) from None
    loader = None
    try:
        depth = 0
        for token in yaml.scan(text, Loader=_Loader):
            if isinstance(token, (yaml.AliasToken, yaml.AnchorToken)):
                raise UserErrors(
                    [
                        UserError(
                            name,
                            token.start_mark.line + 1,
                            "an anchor or alias (& or *)",
                            "the value written out; text that begins with & or * stands in quotes",
                        )
                    ]
                )
            depth += isinstance(token, _OPENING) - isinstance(token, _CLOSING)
            if depth > DEEPEST:
                raise RecursionError
        loader = _Loader(text)
        node = loader.get_single_node()
        lines: dict[tuple, int] = {}
        errors: list[UserError] = []
        _collect_lines(node, (), lines, errors, name)
        values = loader.construct_document(node) if node is not None and not errors else None
    except yaml.YAMLError as problem:
        mark = getattr(problem, "problem_mark", None)
        raise UserErrors(
            [
                UserError(
                    name,
                    mark.line + 1 if mark else None,
                    f"not readable as YAML ({getattr(problem, 'problem', None) or str(problem).splitlines()[0]})",
                    'lines such as `title: "Spring practical"`, indented with spaces',
                )
            ]
        ) from None
    except RecursionError:
        raise UserErrors([UserError(name, None, "settings nested dozens deep", "a few levels")]) from None
    except ValueError as problem:
        raise UserErrors(
            [UserError(name, None, f"a value that can't be read ({problem})", "plain text or a number")]
        ) from None
    finally:
        if loader is not None:
            loader.dispose()
    if errors:
        raise UserErrors(errors)
    return _Document(name, values, lines)


def _collect_lines(node, path: tuple, lines: dict, errors: list, name: str) -> None:
    """Note the line of each key below `node`, and each key given twice."""
    if isinstance(node, yaml.MappingNode):
        seen = set()
        for key, value in node.value:
            if not isinstance(key, yaml.ScalarNode):
                errors.append(
                    UserError(
                        name,
                        key.start_mark.line + 1,
                        "a key that is not plain text",
                        "a name, such as `title`",
                    )
                )
                continue
            inner = (*path, key.value)
            if harmful(key.value):
                errors.append(
                    UserError(
                        name,
                        key.start_mark.line + 1,
                        f"a key with the character {harmful(key.value)}",
                        "a name of characters that print",
                    )
                )
            if key.value in seen:
                errors.append(
                    UserError(
                        name, key.start_mark.line + 1, f"{dotted(inner)} is given twice", "each key once"
                    )
                )
            seen.add(key.value)
            lines[inner] = key.start_mark.line + 1
            _collect_lines(value, inner, lines, errors, name)
    elif isinstance(node, yaml.SequenceNode):
        for index, value in enumerate(node.value):
            lines[*path, index] = value.start_mark.line + 1
            _collect_lines(value, (*path, index), lines, errors, name)
    elif isinstance(node, yaml.ScalarNode) and harmful(node.value):
        errors.append(
            UserError(
                name,
                node.start_mark.line + 1,
                f"{dotted(path)} holds the character {harmful(node.value)}",
                "text of characters that print, none of which turns the direction of reading",
            )
        )


def dotted(path: tuple) -> str:
    """`sets.heron.files` for a path of keys."""
    return ".".join(str(part) for part in path) or "the file"


def _shown(value: object) -> str:
    """A value as the user would recognise it, shortened."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 60 else text[:57] + "..."


@cache
def _timezones() -> set[str]:
    """Names of time zones. To list them, the library looks into each of its files."""
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


_Validator = jsonschema.validators.extend(
    jsonschema.Draft202012Validator,
    type_checker=jsonschema.Draft202012Validator.TYPE_CHECKER.redefine(
        "integer", lambda _, value: isinstance(value, int) and not isinstance(value, bool)
    ),
)
"""A JSON schema's whole number may be 1.0, with which no line can be counted."""


def _faults(document: _Document, schema: Mapping, values: object, prefix: tuple = ()) -> Iterator[UserError]:
    """Every disagreement of `values` (at `prefix` in the document) with a JSON schema, as plain errors."""
    validator = _Validator(schema, format_checker=_formats())
    for fault in sorted(validator.iter_errors(values), key=lambda f: [str(part) for part in f.absolute_path]):
        yield from _plain(document, fault, prefix)


def _plain(document: _Document, fault: jsonschema.ValidationError, prefix: tuple) -> Iterator[UserError]:
    path = (*prefix, *fault.absolute_path)
    key, value, schema = dotted(path), fault.instance, fault.schema
    line = document.line(path)
    hint = f" ({schema['description']})" if isinstance(schema, Mapping) and "description" in schema else ""
    match "propertyNames" if "propertyNames" in fault.schema_path else fault.validator:
        case "additionalProperties":
            allowed = schema.get("properties", {})
            for name in value:
                if name not in allowed:
                    yield UserError(
                        document.name,
                        document.line((*path, str(name))),
                        f"unknown key {dotted((*path, name))}",
                        f"one of {', '.join(allowed)}{did_you_mean(name, allowed)}",
                    )
        case "required":
            for name in fault.validator_value:
                if name not in value:
                    yield UserError(
                        document.name,
                        line,
                        f"{dotted((*path, name))} is missing",
                        _describe(schema.get("properties", {}).get(name, {})),
                    )
        case "enum":
            yield UserError(
                document.name,
                line,
                f"{key} is {_shown(value)}",
                f"{' or '.join(_shown(v) for v in fault.validator_value)}{did_you_mean(value, fault.validator_value)}",
            )
        case "type":
            wanted = (
                fault.validator_value if isinstance(fault.validator_value, list) else [fault.validator_value]
            )
            names = {
                "object": "keys of its own",
                "array": "a list",
                "string": "text",
                "number": "a number",
                "integer": "a whole number",
                "boolean": "true or false",
            }
            yield UserError(
                document.name, line, f"{key} is {_shown(value)}", " or ".join(names[w] for w in wanted) + hint
            )
        case "minimum" | "maximum" | "exclusiveMinimum" | "exclusiveMaximum":
            words = {
                "minimum": "at least",
                "maximum": "at most",
                "exclusiveMinimum": "more than",
                "exclusiveMaximum": "less than",
            }
            yield UserError(
                document.name,
                line,
                f"{key} is {_shown(value)}",
                f"{words[fault.validator]} {fault.validator_value:g}{hint}",
            )
        case "format" if fault.validator_value == "timezone":
            yield UserError(
                document.name,
                line,
                f"{key} is {_shown(value)}",
                f"an IANA time zone such as Europe/Zurich or UTC{did_you_mean(value, _timezones())}",
            )
        case "format":
            yield UserError(
                document.name,
                line,
                f"{key} is {_shown(value)}",
                "a regular expression with one group in parentheses",
            )
        case "propertyNames":
            yield UserError(
                document.name,
                document.line((*path, str(fault.instance))) or line,
                f"the name {_shown(value)} under {key}",
                "letters, digits, - and _, beginning with a letter",
            )
        case "anyOf":
            yield from _of_nearest_branch(document, fault, path, line, prefix)
        case "minProperties":
            yield UserError(document.name, line, f"{key} is empty", "at least one entry")
        case _:
            yield UserError(
                document.name,
                line,
                f"{key} is {_shown(value)}",
                (hint.strip(" ()") or "another form") + _example(key),
            )


def _of_nearest_branch(document, fault, path, line, prefix) -> Iterator[UserError]:
    """The faults of that reading of a key which fits best, so that a person is told one thing, not each reading's complaint."""
    branches: dict[int, list] = {}
    for inner in fault.context:
        branches.setdefault(inner.schema_path[0], []).append(inner)
    if all(isinstance(branch, Mapping) and set(branch) <= {"required"} for branch in fault.validator_value):
        wanted = " or ".join(" and ".join(branch["required"]) for branch in fault.validator_value)
        yield UserError(
            document.name,
            line,
            f"{dotted(path)} has {', '.join(map(str, fault.instance)) or 'nothing'}",
            wanted,
        )
        return
    if path[-1:] == ("time",) and isinstance(fault.instance, Mapping):
        given = set(fault.instance)
        overlap = [
            len(given & set(branch.get("properties", {}))) - 0.1 * len(set(branch["required"]) - given)
            for branch in fault.validator_value
        ]
        best = overlap.index(max(overlap))
    else:
        best = min(
            branches,
            key=lambda index: (
                any(f.validator == "type" and not f.path for f in branches[index]),
                len(branches[index]),
            ),
        )
    for inner in branches.get(best, fault.context[:1]):
        yield from _plain(document, inner, prefix)


def _describe(schema: Mapping) -> str:
    if "enum" in schema:
        return " or ".join(_shown(v) for v in schema["enum"])
    return schema.get("description", "a value") if schema else "a value"


def _example(key: str) -> str:
    examples = {
        "utc_offset": 'for example "+01:00"',
        "shift": 'for example "-01:00:00"',
        "delimiter": 'for example "," or whitespace',
    }
    text = examples.get(key.rsplit(".", 1)[-1], "")
    return f", {text}" if text else ""


def _with_defaults(values: Mapping, schema: Mapping) -> dict:
    """Values with the schema's defaults where a key is absent, at every level that has properties."""
    filled = dict(values)
    for key, inner in schema.get("properties", {}).items():
        if "default" in inner and filled.get(key) is None:
            filled[key] = inner["default"]
        if inner.get("type") == "object" and inner.get("properties"):
            if isinstance(filled.get(key), Mapping) or not inner.get("required"):
                filled[key] = _with_defaults(filled.get(key) or {}, inner)
    return filled


def changed(settings: Mapping) -> list[list[str]]:
    """What a campaign chose otherwise than the defaults, as [key, value, default]. settings: as `load` gives them."""
    found = []
    for part, inner in _schema("campaign")["properties"].items():
        for key, entry in (
            inner.get("properties", {}).items() if part in settings and part != "plan" else ()
        ):  # a plan changes no result
            if "default" in entry and settings[part][key] != entry["default"]:
                found.append([f"{part}.{key}", _shown(settings[part][key]), _shown(entry["default"])])
    if settings["notes"]["shift"] != "00:00:00":
        found.append(["notes.shift", settings["notes"]["shift"], "00:00:00"])
    for surface, values in settings["overrides"]["surfaces"].items():
        found += [
            [f"overrides.surfaces.{surface}.{key}", _shown(value), "config/surfaces.csv"]
            for key, value in values.items()
        ]
    return found


def _schema(name: str) -> dict:
    return json.loads((SCHEMAS / f"{name}.schema.json").read_text(encoding="utf-8"))


def files_inside(folder: Path, pattern: str) -> list[str]:
    """Names, relative to `folder` and in sorted order, of the files that a glob matches; never one outside of it."""
    root = folder.resolve()
    names = []
    for path in sorted(folder.glob(pattern)):
        if path.is_file() and path.resolve().is_relative_to(root):
            names.append(path.relative_to(folder).as_posix())
    return names


def load(folder: Path, config: Path, needs: Collection[str] = ("notes", "register", "raw")) -> dict:
    """The settings of a campaign, checked and with every default filled in.

    folder: the campaign folder. config: the project's config folder (layouts/, surfaces.csv). needs: what else must be there: field notes, the register
    of sensors, a raw file; before and during a day they are not, and `notes_file` is then empty.
    Returns the mapping of campaign.yaml; each set has its `layout` as a mapping and `raw`, its files' names; beside them
    `notes_file`, `weather_file`, `station_file`, `outlines_file`, `track_files` (of each set), `surfaces` (the names of the known classes). Raises UserErrors with all faults found.
    """
    if not folder.is_dir():
        raise UserErrors(
            [
                UserError(
                    str(folder),
                    None,
                    "no such folder",
                    "the path of a campaign folder, which holds campaign.yaml",
                )
            ]
        )
    path = folder / "campaign.yaml"
    if not path.is_file():
        other = next((p.name for p in sorted(folder.iterdir()) if p.suffix in (".yml", ".yaml")), "")
        raise UserErrors(
            [
                UserError(
                    f"{folder.name}/campaign.yaml",
                    None,
                    f"no such file{f' (there is {other})' if other else ''}",
                    "each campaign folder holds a file campaign.yaml",
                )
            ]
        )
    document = read_yaml(path, "campaign.yaml")
    if not isinstance(document.values, dict):
        raise UserErrors(
            [UserError("campaign.yaml", 1, "no keys", "at least title, site and sets, each as `key: value`")]
        )
    schema = _schema("campaign")
    given = _without_nulls(document.values)
    errors = list(_faults(document, schema, given))
    settings = _with_defaults(given, schema) if not errors else given
    layout_schema = _schema("layout")
    sets = settings.get("sets") if isinstance(settings.get("sets"), dict) else {}
    for name, entry in sets.items():
        if not isinstance(entry, dict):
            continue
        entry = sets[name] = dict(entry)
        entry["layout_name"] = entry["layout"] if isinstance(entry.get("layout"), str) else ""
        layout_errors, entry["layout"] = _layout(
            entry.get("layout"), config / "layouts", document, ("sets", name, "layout"), layout_schema
        )
        errors += layout_errors
        if not layout_errors and isinstance(entry["layout"], dict) and entry.get("longwave") == "corrected":
            for channel in ("lw_in", "lw_out"):
                unit = entry["layout"]["channels"][channel]["unit"]
                if unit != "W m-2":
                    errors.append(
                        UserError(
                            document.name,
                            document.line(("sets", name, "longwave")),
                            f"sets.{name}.longwave is corrected, but {channel} is in {unit}",
                            "net: only a flux in W m-2 can hold the own emission already",
                        )
                    )
        if isinstance(entry.get("files"), str):
            file_errors, entry["raw"] = _raw_files(folder, document, name, entry["files"])
            errors += file_errors
    wanted = (
        (settings.get("methods") or {}).get("set_scale")
        if isinstance(settings.get("methods"), dict)
        else None
    )
    if isinstance(wanted, str) and wanted not in ("none", "mean", *sets):
        errors.append(
            UserError(
                document.name,
                document.line(("methods", "set_scale")),
                f"methods.set_scale is {_shown(wanted)}",
                f"none, mean, or one of the sets ({', '.join(sets)}){did_you_mean(wanted, ['none', 'mean', *sets])}",
            )
        )
    if (
        isinstance(settings.get("methods"), dict)
        and settings["methods"].get("incoming_terms") == "station"
        and not (folder / "station.csv").is_file()
    ):
        errors.append(
            UserError(
                document.name,
                document.line(("methods", "incoming_terms")),
                'methods.incoming_terms is "station", but the folder holds no station.csv',
                'a file station.csv, or "sets"',
            )
        )
    notes = [name for name in ("notes.csv", "notes.xlsx") if (folder / name).is_file()]
    if len(notes) != 1 and "notes" in needs:
        errors.append(
            UserError(
                " and ".join(notes) or "notes.csv",
                None,
                "both are there" if notes else "no such file",
                "exactly one file of field notes, notes.csv or notes.xlsx",
            )
        )
    if not (folder / "instruments.csv").is_file() and "register" in needs:
        errors.append(
            UserError(
                "instruments.csv",
                None,
                "no such file",
                "the register of sensors: one row a sensor and certificate",
            )
        )
    surfaces = {}
    try:
        overrides = given.get("overrides", {})
        overrides = (
            overrides.get("surfaces", {})
            if _Validator(schema["properties"]["overrides"]).is_valid(overrides)
            else {}
        )
        surfaces = surface_classes(config / "surfaces.csv", overrides, document)
    except UserErrors as problem:
        errors += problem.errors
    if not errors and "raw" in needs and not any(entry["raw"] for entry in sets.values()):
        first = next(iter(sets))
        errors.append(
            UserError(
                "campaign.yaml",
                document.line(("sets", first, "files")),
                "no set has a file: the folder holds no logger files",
                f"raw files that match the globs, such as {_shown(sets[first]['files'])} for {first}",
            )
        )
    if errors:
        raise UserErrors(
            list(dict.fromkeys(errors))
        )  # where several keys are missing, the schema complains of all of them for each
    settings["notes"]["timezone"] = settings["notes"].get("timezone") or settings["site"]["timezone"]
    settings["notes"]["shift"] = settings["notes"].get("shift") or "00:00:00"
    settings.setdefault("seed", zlib.crc32(settings["title"].encode("utf-8")))
    settings["notes_file"] = notes[0] if notes else ""
    settings["weather_file"] = "weather.csv" if (folder / "weather.csv").is_file() else ""
    settings["station_file"] = "station.csv" if (folder / "station.csv").is_file() else ""
    settings["outlines_file"] = "fields.geojson" if (folder / "fields.geojson").is_file() else ""
    settings["track_files"] = {
        name: next((f for f in (f"track_{name}.gpx", "track.gpx") if (folder / f).is_file()), "")
        for name in sets
    }
    settings["surfaces"] = list(surfaces)
    settings["overrides"] = {"surfaces": overrides}
    return settings


def uncertainty_terms(path: Path) -> dict[str, dict]:
    """The rows of uncertainty.csv by term. Raises UserErrors where one is missing, has no size, or acts on what the model does not know."""
    errors, terms = [], {}
    fault = lambda line, found, expected: errors.append(
        UserError(f"config/{path.name}", line, found, expected)
    )
    try:
        table = config_rows(path)
    except ValueError as problem:  # raised on bytes that are no text and on lines that are no rows
        raise UserErrors(
            [
                UserError(
                    f"config/{path.name}",
                    None,
                    f"the file can't be read as a table ({str(problem).strip() or 'it is empty'})",
                    "the table that comes with the project, in UTF-8, with changed cells",
                )
            ]
        ) from None
    for line, row in enumerate(table, start=2):
        name = row.get("term", "")
        if not name or name in terms:
            fault(line, f"term {_shown(name)}", "a name of its own in each row")
            continue
        terms[name] = row = {"acts_on": "", **row}
        if row.get("enabled") not in ("true", "false"):
            fault(line, f"enabled of {name} is {_shown(row.get('enabled'))}", "true or false")
        ends = {"normal": ("sigma",), "rectangular": ("low", "high")}.get(row.get("distribution", ""), ())
        sizes = [_number(row.get(end, "")) for end in ends]
        filled = [end for end in ("sigma", "low", "high") if row.get(end)]
        if not ends and row.get("distribution") != "Student":
            fault(
                line,
                f"distribution of {name} is {_shown(row.get('distribution'))}",
                "normal (with sigma) or rectangular (with low and high)",
            )
        elif filled and (
            not all(isinstance(size, float) and math.isfinite(size) for size in sizes)
            or sorted(sizes) != sizes
            or (ends == ("sigma",) and sizes[0] < 0)
        ):
            fault(
                line,
                f"size of {name} is {', '.join(f'{end} {_shown(row[end])}' for end in filled)}",
                "a number not under 0 as sigma, or low and high in this order",
            )
        if name in TERMS:
            continue
        if row["acts_on"] not in ACTS_ON:
            fault(
                line,
                f"acts_on of {name} is {_shown(row['acts_on'])}",
                f"one of {', '.join(ACTS_ON)}{did_you_mean(row['acts_on'], ACTS_ON)}",
            )
        if row.get("shared_by") not in SHARED_BY:
            fault(
                line,
                f"shared_by of {name} is {_shown(row.get('shared_by'))}",
                f"one of {', '.join(SHARED_BY)}{did_you_mean(row.get('shared_by', ''), SHARED_BY)}",
            )
        if not filled:
            fault(line, f"{name} has no size", "sigma, or low and high")
    for name in TERMS:
        if name not in terms:
            fault(
                None,
                f"no row for {name}",
                "every row that comes with the project; `enabled` false switches one off",
            )
    if errors:
        raise UserErrors(errors)
    return terms


def _without_nulls(values: object) -> object:
    """A key left empty counts as absent, so that it gets its default."""
    if isinstance(values, dict):
        return {key: _without_nulls(value) for key, value in values.items() if value is not None}
    return values


def _layout(
    layout: object, folder: Path, document: _Document, path: tuple, schema: Mapping
) -> tuple[list[UserError], object]:
    """The faults of a layout given by name or inline, and the layout with its defaults."""
    if isinstance(layout, str):
        known = sorted(p.stem for p in folder.glob("*.yaml"))
        if layout not in known:
            return [
                UserError(
                    document.name,
                    document.line(path),
                    f"{dotted(path)} is {_shown(layout)}",
                    f"a layout in config/layouts ({', '.join(known)}), or one written here{did_you_mean(layout, known)}",
                )
            ], layout
        try:
            document, path = read_yaml(folder / f"{layout}.yaml", f"config/layouts/{layout}.yaml"), ()
        except UserErrors as problem:
            return problem.errors, layout
        layout = document.values
        if not isinstance(layout, dict):
            return [
                UserError(
                    document.name,
                    1,
                    "no keys",
                    "a layout: at least interval, time, stamp and channels, each as `key: value`",
                )
            ], layout
    if not isinstance(layout, dict):
        return [], layout  # its type was already found wrong
    layout = _without_nulls(layout)
    errors = list(_faults(document, schema, layout, path))
    if not errors:
        layout = _with_defaults(layout, schema)
        layout["missing"] = [str(marker) for marker in layout["missing"]]
        columns = {key: channel["column"] for key, channel in layout["channels"].items()}
        names = [column for column in columns.values() if isinstance(column, str)]
        if not layout["names"] and names:
            errors.append(
                UserError(
                    document.name,
                    document.line((*path, "channels")),
                    f"columns by name ({', '.join(names)}) with names: false",
                    "positions from 1, since the file has no line of column names",
                )
            )
        taken: dict = {}
        for key, column in columns.items():
            if column in taken:
                errors.append(
                    UserError(
                        document.name,
                        document.line((*path, "channels", key)),
                        f"{key} has the same column {_shown(column)} as {taken[column]}",
                        "a column of its own for each channel",
                    )
                )
            taken[column] = key
    return errors, layout


def _raw_files(
    folder: Path, document: _Document, name: str, pattern: str
) -> tuple[list[UserError], list[str]]:
    line = document.line(("sets", name, "files"))
    parts = re.split(r"[/\\]", pattern)
    outside = (
        pattern.startswith(("/", "~", "\\"))
        or ".." in parts
        or re.match(r"^[A-Za-z]:", pattern)
        or "**" in pattern
    )
    try:
        found = [] if outside else files_inside(folder, pattern)
    except (OSError, ValueError):  # an empty pattern, or a name that no file can have
        outside = True
    if outside:
        return [
            UserError(
                document.name,
                line,
                f"sets.{name}.files is {_shown(pattern)}",
                'a glob inside the campaign folder, such as "logger/heron_*.csv"',
            )
        ], []
    if len(found) > MOST_FILES:
        return [
            UserError(
                document.name,
                line,
                f"sets.{name}.files matches {len(found)} files",
                f"at most {MOST_FILES}: join the files, or narrow the glob",
            )
        ], []
    return [
        UserError(
            file,
            None,
            f"the file has {size} bytes",
            f"at most {LARGEST_LOGGER_FILE}: the files of one campaign, exported by the day",
        )
        for file in found
        if (size := (folder / file).stat().st_size) > LARGEST_LOGGER_FILE
    ], found


def surface_classes(
    table: Path, overrides: Mapping, document: _Document = _Document("campaign.yaml", None, {})
) -> dict[str, dict]:
    """Surface classes as {class: {property: {value, low, high, unit, source, how}}}, with a campaign's overrides.

    An override of a number keeps the table's range, widened so as to hold the new value; {value, low, high} sets all.
    A class of the campaign's own needs every property that each class of the table has.
    """
    classes: dict[str, dict] = {}
    for row in config_rows(table):
        classes.setdefault(row["surface"], {})[row["property"]] = {
            "value": _number(row["value"]),
            "low": _number(row["low"]),
            "high": _number(row["high"]),
            "unit": row["unit"],
            "source": row["source"],
            "how": row["how"],
        }
    properties = {name for entry in classes.values() for name in entry}
    needed = set.intersection(*(set(entry) for entry in classes.values())) - {"colour", "marker", "label"}
    errors = []
    for surface, given in overrides.items():
        if not isinstance(given, Mapping):
            continue
        path = ("overrides", "surfaces", surface)
        new = surface not in classes
        entry = classes.setdefault(surface, {})
        for name, value in given.items():
            if name not in properties:
                errors.append(
                    UserError(
                        document.name,
                        document.line((*path, str(name))),
                        f"unknown key {dotted((*path, name))}",
                        f"one of {', '.join(sorted(properties))}{did_you_mean(name, properties)}",
                    )
                )
                continue
            value = dict(value) if isinstance(value, Mapping) else {"value": value}
            before = entry.get(name, {})
            text = any(isinstance(c[name]["value"], str) for c in classes.values() if name in c)
            if isinstance(value["value"], str) != text:
                errors.append(
                    UserError(
                        document.name,
                        document.line((*path, name)),
                        f"{dotted((*path, name))} is {_shown(value['value'])}",
                        "text" if text else "a number",
                    )
                )
                continue
            if text and value["value"] not in CHOICES.get(name, (value["value"],)):
                errors.append(
                    UserError(
                        document.name,
                        document.line((*path, name)),
                        f"{dotted((*path, name))} is {_shown(value['value'])}",
                        f"{' or '.join(CHOICES[name])}{did_you_mean(value['value'], CHOICES[name])}",
                    )
                )
                continue
            if not text:
                least, most = BOUNDS.get(name, (-math.inf, math.inf))
                if not all(least <= value[end] <= most for end in ("value", "low", "high") if end in value):
                    errors.append(
                        UserError(
                            document.name,
                            document.line((*path, name)),
                            f"{dotted((*path, name))} is {_shown(given[name])}",
                            f"a number from {least:g} to {most:g}",
                        )
                    )
                    continue
                lows = [x for x in (before.get("low"), value["value"]) if x not in ("", None)]
                highs = [x for x in (before.get("high"), value["value"]) if x not in ("", None)]
                value = {"low": min(lows), "high": max(highs), **value}
                if not value["low"] <= value["value"] <= value["high"]:
                    errors.append(
                        UserError(
                            document.name,
                            document.line((*path, name)),
                            f"{dotted((*path, name))}: value outside low and high",
                            "low <= value <= high",
                        )
                    )
                    continue
            entry[name] = {
                "low": "",
                "high": "",
                "unit": before.get("unit", ""),
                "source": "campaign.yaml",
                **value,
                "how": "override",
            }
        coefficient = SPLIT_PROPERTY.get(entry.get("latent_method", {}).get("value"), "")
        missing = {coefficient} - {""} - set(entry) | (
            set(TOGETHER) - set(entry) if set(TOGETHER) & set(entry) else set()
        )
        missing = sorted(missing | (needed - set(entry) if new else set()))
        if missing:
            errors.append(
                UserError(
                    document.name,
                    document.line(path),
                    f"the class {surface} lacks {', '.join(missing)}",
                    f"every value of a class{did_you_mean(surface, set(classes) - {surface}) if new else ''}",
                )
            )
        if new:
            entry.setdefault(
                "label",
                {
                    "value": surface.replace("_", " "),
                    "low": "",
                    "high": "",
                    "unit": "",
                    "source": "campaign.yaml",
                    "how": "override",
                },
            )
    if errors:
        raise UserErrors(errors)
    return classes


def _number(text: str) -> float | str:
    """A table's cell as a number where it is one."""
    try:
        return float(text)
    except ValueError:
        return text
