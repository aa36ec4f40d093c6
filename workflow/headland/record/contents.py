"""What goes into an archive: inputs, results, settings, versions, the workflow, and their descriptions."""

from __future__ import annotations

import csv
import io
import json
import platform
import re
import tomllib
from importlib.metadata import distributions
from pathlib import Path

from headland.files import config_tables, credit, tables, yaml_files
from headland.files.campaign_files import TIMED
from headland.files.digests import digest, digest_of
from headland.files.schemas import SCHEMAS, table_schema
from headland.record import crate, describe, netcdf, readme
from headland.record.project import project_files
from headland.report import package

ROOT = Path(__file__).resolve().parents[3]
SCHEMAS_OF_NETCDF = {"samples": "samples_segmented", "segments": "segments"}
NETCDF_COMMENT = "Ends of intervals (_low, _high) hold 95 %. Net radiation is positive towards the surface."


def made(results: Path, listed: list[Path]) -> dict[str, Path]:
    """The files that the chain makes, by name below the results folder. What an earlier run left is not among
    them.
    """
    files = [file for path in listed for file in (sorted(path.rglob("*")) if path.is_dir() else [path])]
    # changes.* tell of an earlier run, which the record does not hold
    return {
        file.relative_to(results).as_posix(): file
        for file in files
        if file.is_file() and not file.name.startswith((".", "changes."))
    }


def inputs(campaign: Path, chosen: dict) -> dict[str, Path]:
    """The files of the campaign folder that went in, by name."""
    names = [
        "campaign.yaml",
        "instruments.csv",
        chosen["notes_file"],
        *(name for kind in TIMED if (name := chosen[f"{kind}_file"])),
        *([chosen["outlines_file"]] if chosen["outlines_file"] else []),
        *dict.fromkeys(name for name in chosen["track_files"].values() if name),
        *(name for entry in chosen["sets"].values() for name in entry["raw"]),
    ]
    return {name: campaign / name for name in dict.fromkeys(names)}


def record(
    campaign: Path,
    results: Path,
    results_files: dict[str, Path],
    *,
    wheels: list[Path],
    chosen: dict,
    remarks: bool,
) -> tuple[dict, dict, dict]:
    """Everything that goes in: contents of data/ by name, files beside it, lines of bag-info.txt."""
    name = package.name_of(campaign.name)
    own = {f"inputs/{name}/{file}": path for file, path in inputs(campaign, chosen).items()}
    payload: dict[str, Path | bytes] = {
        **own,
        **{f"results/{file}": path for file, path in results_files.items()},
        **{f"project/{file}": path for file, path in project_files(ROOT).items()},
        **{f"wheels/{file.name}": file for folder in wheels for file in sorted(folder.iterdir())},
    }
    samples = {
        set_name: tables.read_table(results / "steps" / "5_segment" / f"{set_name}.csv", "samples_segmented")
        for set_name in chosen["sets"]
    }
    days = sorted(
        {
            day
            for frame in samples.values()
            for day in frame["time_utc"].dropna().dt.strftime("%Y-%m-%d").iloc[[0, -1] if len(frame) else []]
        }
    )
    about = {
        "title": chosen["title"],
        "site": chosen["site"],
        **credit.of(chosen),
        "name": name,
        "dates": (days[0], days[-1]) if days else ("1970-01-01", "1970-01-01"),
        "version": version(),
        "versions": versions(),
        "remarks": remarks,
        "wheels": bool(wheels),
    }
    project = yaml_files.read_yaml(ROOT / "config" / "config.yaml", "config.yaml").values
    if isinstance(project, dict):
        project = {key: value for key, value in project.items() if key not in ("campaign", "results")}
    listed = [
        {"path": path, "bytes": file.stat().st_size, "sha256": digest(file)} for path, file in own.items()
    ]
    payload |= {
        "settings.json": as_json({"campaign": chosen, "project": project, "inputs": listed}),
        "versions.json": as_json(about["versions"]),
        "CITATION.cff": readme.citation(about).encode("utf-8"),
    }
    segments = tables.read_table(results / "segments.csv", "segments")
    if days and len(segments):
        payload["samples_and_segments.nc"] = as_netcdf(samples, segments, about)
    files = {path: weighed(content) for path, content in payload.items()}
    payload["datapackage.json"] = as_json(described(payload, files, about))
    files["datapackage.json"] = weighed(payload["datapackage.json"])
    payload["ro-crate-metadata.json"] = as_json(crate.crate(about, files))
    return payload, {"README.txt": readme.readme(about).encode("utf-8")}, readme.bag_info(about)


def as_json(value: object) -> bytes:
    return (json.dumps(value, ensure_ascii=False, indent=1) + "\n").encode("utf-8")


def weighed(content: Path | bytes) -> tuple[int, str]:
    """Bytes and SHA-256 of a content."""
    if isinstance(content, bytes):
        return len(content), digest_of(content)
    return content.stat().st_size, digest(content)


def as_netcdf(samples: dict, segments, about: dict) -> bytes:
    quantities = config_rows("workflow/headland/quantities.csv")
    occurring = {
        flag
        for frame in samples.values()
        for text in frame["flags"].fillna("").unique()
        for flag in text.split()
    }
    known = [row["flag"] for row in config_rows("config/quality.csv")]
    flags = [*known, *sorted(occurring - set(known))]
    if len(flags) > netcdf.MOST_FLAGS:
        flags = [flag for flag in flags if flag in occurring]
    return netcdf.dataset(
        samples,
        segments,
        fields={name: table_schema(schema)["fields"] for name, schema in SCHEMAS_OF_NETCDF.items()},
        standard_names={row["quantity"]: row["standard_name"] for row in quantities},
        flags=flags,
        site=about["site"],
        attributes={
            "title": about["title"],
            "institution": ", ".join(about["authors"]) or describe.UNSTATED,
            "source": "portable net-radiation sets carried across fields",
            "history": f"computed by Headland {about['version']} from the inputs in this record",
            "references": "the report and docs/method.md in this record",
            "comment": NETCDF_COMMENT,
        },
    )


def described(payload: dict, files: dict, about: dict) -> dict:
    """datapackage.json: every table, and every input that is none."""
    schemas = {
        path.stem: table_schema(path.stem)
        for path in sorted(SCHEMAS.glob("*.json"))
        if not path.stem.endswith(".schema")
    }
    quantities = {row["quantity"]: row for row in config_rows("workflow/headland/quantities.csv")}
    entries = []
    for path, content in payload.items():
        size, digest = files[path]
        columns = head(content) if path.endswith(".csv") and path.startswith(("results/", "inputs/")) else []
        is_table = columns and (
            path.startswith("results/")
            or any(
                set(columns) <= {field["name"] for field in schemas[kind]["fields"]}
                and path.endswith(f"/{kind}.csv")
                for kind in ("notes", "instruments", *TIMED)
            )
        )
        if is_table:
            entries.append(
                describe.described_table(
                    path, columns, digest=digest, size=size, schemas=schemas, quantities=quantities
                )
            )
        elif path.startswith("inputs/") or path == "samples_and_segments.nc":
            entries.append(describe.described_file(path, digest, size))
    return {**package.package(about["name"], about["title"], entries, about), "profile": "data-package"}


def head(table: Path) -> list[str]:
    """The column names of a CSV in UTF-8; none where it is something else."""
    with table.open("rb") as stream:
        first = stream.readline(100_000)
    try:
        columns = next(csv.reader(io.StringIO(first.decode("utf-8"), newline="")), [])
    except (UnicodeDecodeError, csv.Error):
        return []
    return (
        columns
        if len(set(columns)) == len(columns) and all(re.fullmatch(r"\w+", column) for column in columns)
        else []
    )


def config_rows(path: str) -> list[dict[str, str]]:
    return config_tables.config_rows(ROOT / path)


def version() -> str:
    return tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]["version"]


def plain_name(library: str) -> str:
    """A library's name as all tools write it."""
    return re.sub(r"[-_.]+", "-", library).lower()


def versions() -> dict:
    """What computes here: the workflow, the interpreter, the system, the libraries of the lock."""
    locked = {
        plain_name(line.split("==")[0])
        for line in (ROOT / "requirements.lock").read_text(encoding="utf-8").splitlines()
        if re.match(r"[A-Za-z0-9]", line)
    }
    found = {plain_name(item.metadata["Name"]): item.version for item in distributions()}
    return {
        "headland": version(),
        "python": platform.python_version(),
        "system": f"{platform.system()} {platform.machine()}",
        "libraries": {name: found[name] for name in sorted(found) if name in locked},
    }
