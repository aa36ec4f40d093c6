"""What an archive says about itself: the crate (RO-Crate 1.1, Workflow Run Crate), the citation, the tables'
description, the README for the finder.

Every text is a function of the campaign, its results and the versions alone, so that equal inputs give an
equal archive; there is no date of making. People are named only where campaign.yaml states them as authors.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence

from headland.report import package

CONTEXT = ["https://w3id.org/ro/crate/1.1/context", "https://w3id.org/ro/terms/workflow-run/context"]
PROFILES = {
    "https://w3id.org/ro/wfrun/process/0.5": ("Process Run Crate", "0.5"),
    "https://w3id.org/ro/wfrun/workflow/0.5": ("Workflow Run Crate", "0.5"),
    "https://w3id.org/workflowhub/workflow-ro-crate/1.0": ("Workflow RO-Crate", "1.0"),
}
PARAMETER_PROFILE = "https://bioschemas.org/profiles/FormalParameter/1.0-RELEASE"
MEDIA = {
    ".csv": "text/csv",
    ".json": "application/json",
    ".html": "text/html",
    ".pdf": "application/pdf",
    ".svg": "image/svg+xml",
    ".yaml": "application/yaml",
    ".md": "text/markdown",
    ".txt": "text/plain",
    ".py": "text/x-python",
    ".nc": "application/netcdf",
    ".cff": "application/yaml",
    ".smk": "text/plain",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
}
FOLDERS = {
    "inputs": (
        "Inputs",
        "The campaign folder as it went in: settings, register of sensors, notes, weather, logger files.",
    ),
    "results": (
        "Results",
        "The report, the tables, the figures, and what each step of the chain left behind.",
    ),
    "project": (
        "Workflow",
        "Headland's own source at its version, with its settings and the lock of its libraries.",
    ),
    "wheels": ("Libraries", "The libraries of the lock as packages, for a machine without a network."),
}
PARTS = {
    "CITATION.cff": "How to cite this record.",
    "datapackage.json": "Title, unit and meaning of every column of every table.",
    "settings.json": "Every setting in force, defaults filled in, and the inputs with their checksums.",
    "versions.json": "Versions of the workflow, the interpreter and the libraries that made the results.",
    "samples_and_segments.nc": "Samples and segments as NetCDF with CF conventions.",
}
KINDS = (
    ("campaign.yaml", "settings of the campaign"),
    ("instruments.csv", "register of sensors and certificates"),
    ("notes.", "field notes"),
    ("weather.", "weather beside the fields"),
    ("station.", "reference station nearby"),
    ("fields.geojson", "outlines of the fields"),
    ("track", "GPS track of the walks"),
    ("", "logger file"),
)
"""What an input is, by the beginning of its name."""
UNSTATED = "not stated: ask the authors"


def kind_of(name: str) -> str:
    """What an input file is. name: in the campaign folder."""
    return next(kind for beginning, kind in KINDS if name.startswith(beginning))


def crate(record: Mapping, files: Mapping[str, tuple[int, str]]) -> dict:
    """The crate's metadata, ro-crate-metadata.json.

    record: title, site, dates (first and last day), authors, licence, version, versions, name (of the
    campaign folder). files: bytes and SHA-256 of every file of the crate by its path, this one left out.
    """
    wanted = {path: entry for path, entry in files.items() if not path.startswith(("project/", "wheels/"))}
    wanted |= {
        path: files[path] for path in ("project/Snakefile", "project/requirements.lock") if path in files
    }
    folders = [name for name in FOLDERS if any(path.startswith(f"{name}/") for path in files)]
    inputs = [path for path in wanted if path.startswith("inputs/")]
    results = [path for path in wanted if path.startswith("results/") and path.count("/") == 1]
    authors = [
        {"@id": f"#author-{number}", "@type": "Person", "name": name}
        for number, name in enumerate(record["authors"], 1)
    ]
    first, last = record["dates"]
    root = {
        "@id": "./",
        "@type": "Dataset",
        "name": record["title"],
        "description": f"Record of the net-radiation survey “{record['title']}” at {record['site']['name']}: inputs, results, settings in force and the workflow that made them.",
        # there is no date of making in an archive: the last day of the recording stands for it
        "datePublished": last,
        "temporalCoverage": f"{first}/{last}",
        "license": {"@id": "#licence"},
        "conformsTo": _ids(PROFILES),
        "mainEntity": {"@id": "project/Snakefile"},
        "mentions": {"@id": "#run"},
        "spatialCoverage": {"@id": "#site"},
        "hasPart": _ids([*(f"{name}/" for name in folders), *(path for path in wanted if "/" not in path)]),
        **({"author": _ids(author["@id"] for author in authors)} if authors else {}),
    }
    parameters = [
        {
            "@id": f"#in-{number}",
            "@type": "FormalParameter",
            "additionalType": "File",
            "name": kind,
            "conformsTo": {"@id": PARAMETER_PROFILE},
            "workExample": _ids(path for path in inputs if kind_of(path.split("/", 2)[2]) == kind),
        }
        for number, (_, kind) in enumerate(KINDS, 1)
        if any(kind_of(path.split("/", 2)[2]) == kind for path in inputs)
    ]
    of_kind = {parameter["name"]: parameter["@id"] for parameter in parameters}
    outputs = [
        {
            "@id": f"#out-{number}",
            "@type": "FormalParameter",
            "additionalType": "File",
            "name": path.split("/")[1],
            "conformsTo": {"@id": PARAMETER_PROFILE},
            "workExample": {"@id": path},
        }
        for number, path in enumerate(results, 1)
    ]
    return {
        "@context": CONTEXT,
        "@graph": [
            {
                "@id": "ro-crate-metadata.json",
                "@type": "CreativeWork",
                "about": {"@id": "./"},
                "conformsTo": _ids(
                    ["https://w3id.org/ro/crate/1.1", "https://w3id.org/workflowhub/workflow-ro-crate/1.0"]
                ),
            },
            root,
            *authors,
            {
                "@id": "#licence",
                "@type": "CreativeWork",
                "name": record["licence"] or UNSTATED,
                "description": "Licence of the data in this record.",
            },
            {
                "@id": "#site",
                "@type": "Place",
                "name": record["site"]["name"],
                "geo": {"@id": "#coordinates"},
            },
            {
                "@id": "#coordinates",
                "@type": "GeoCoordinates",
                "latitude": record["site"]["latitude"],
                "longitude": record["site"]["longitude"],
                "elevation": record["site"]["elevation"],
                "name": "Coordinates of the site",
            },
            *(
                {
                    "@id": f"{name}/",
                    "@type": "Dataset",
                    "name": FOLDERS[name][0],
                    "description": FOLDERS[name][1],
                    "hasPart": _ids(path for path in wanted if path.startswith(f"{name}/")),
                }
                for name in folders
            ),
            *(
                _file(path, size, of_kind, outputs)
                for path, (size, _) in wanted.items()
                if path != "project/Snakefile"
            ),
            {
                "@id": "project/Snakefile",
                "@type": ["File", "SoftwareSourceCode", "ComputationalWorkflow"],
                "name": f"Headland {record['version']}",
                "description": "From a walked net-radiation survey to a lab report.",
                "version": record["version"],
                "license": "MIT",
                "contentSize": str(wanted["project/Snakefile"][0]),
                "encodingFormat": "text/plain",
                "programmingLanguage": {"@id": "#snakemake"},
                "conformsTo": {"@id": "https://bioschemas.org/profiles/ComputationalWorkflow/1.0-RELEASE"},
                "input": _ids(p["@id"] for p in parameters),
                "output": _ids(p["@id"] for p in outputs),
                "softwareRequirements": {"@id": "project/requirements.lock"},
            },
            {
                "@id": "#snakemake",
                "@type": "ComputerLanguage",
                "name": "Snakemake",
                "version": record["versions"]["libraries"].get("snakemake", ""),
                "url": {"@id": "https://snakemake.readthedocs.io"},
            },
            *parameters,
            *outputs,
            {
                "@id": "#run",
                "@type": "CreateAction",
                "name": f"Run of Headland {record['version']} on {record['title']}",
                "description": "From the inputs to the results, with the settings in settings.json, by the versions in versions.json.",
                "instrument": {"@id": "project/Snakefile"},
                "object": _ids(inputs),
                "result": _ids(results),
                "actionStatus": "http://schema.org/CompletedActionStatus",
                **({"agent": {"@id": authors[0]["@id"]}} if authors else {}),
            },
            *(
                {"@id": address, "@type": "CreativeWork", "name": name, "version": version}
                for address, (name, version) in PROFILES.items()
            ),
        ],
    }


def _ids(names: Iterable[str]) -> list[dict] | dict:
    """References to entities; to a single one without a list, as the crate's standard asks."""
    references = [{"@id": name} for name in names]
    return references[0] if len(references) == 1 else references


def _file(path: str, size: int, kinds: Mapping[str, str], outputs: Sequence[Mapping]) -> dict:
    ending = path[path.rfind(".") :] if "." in path else ""
    entity = {
        "@id": path,
        "@type": "File",
        "name": path.rsplit("/", 1)[-1],
        "contentSize": str(size),
        "encodingFormat": MEDIA.get(ending, "application/octet-stream"),
    }
    if path in PARTS:
        entity["description"] = PARTS[path]
    if path.startswith("inputs/"):
        kind = kind_of(path.split("/", 2)[2])
        entity |= {"description": kind, "exampleOfWork": {"@id": kinds[kind]}}
    own = next((p["@id"] for p in outputs if p["workExample"]["@id"] == path), None)
    return entity | ({"exampleOfWork": {"@id": own}} if own else {})


def citation(record: Mapping) -> str:
    """CITATION.cff of the record; its values are written as JSON texts, which YAML reads as they are."""
    authors = record["authors"] or [f"The authors of “{record['title']}”"]
    lines = [
        "cff-version: 1.2.0",
        "message: Cite this record as below, and Headland by the CITATION.cff in its own folder.",
        f"title: {_text(record['title'])}",
        "type: dataset",
        "authors:",
        *(f"  - name: {_text(name)}" for name in authors),
        f"abstract: {_text('Net-radiation survey at ' + record['site']['name'] + ', ' + ' to '.join(dict.fromkeys(record['dates'])) + ': inputs, results and workflow.')}",
        "keywords:",
        *(f"  - {word}" for word in ("net radiation", "albedo", "surface temperature", "energy balance")),
    ]
    return "\n".join([*lines, *([f"license: {record['licence']}"] if record["licence"] else []), ""])


def _text(text: str) -> str:
    return json.dumps(" ".join(text.split()), ensure_ascii=False)


def bag_info(record: Mapping) -> dict[str, str]:
    """Lines of bag-info.txt."""
    return {
        "Bag-Software-Agent": f"Headland {record['version']}",
        "External-Description": f"{record['title']}, {record['site']['name']}",
        "Internal-Sender-Identifier": record["name"],
        "Recording-Dates": " to ".join(dict.fromkeys(record["dates"])),
    }


def described_table(
    path: str,
    digest: str,
    size: int,
    columns: Sequence[str],
    schemas: Mapping[str, Mapping],
    quantities: Mapping[str, Mapping],
) -> dict:
    """A table's entry in datapackage.json. Its schema is the one that holds its columns; columns that none
    holds are described by their names alone.

    columns: as the file has them. schemas: the project's Table Schemas by name. quantities: rows of
    quantities.csv by quantity.
    """
    stem = path.rsplit("/", 1)[-1].removesuffix(".csv")
    fitting = [
        schema for schema in schemas.values() if set(columns) <= {field["name"] for field in schema["fields"]}
    ]
    # of several, the one of its name; else the one with the fewest other columns
    schema = min(
        fitting,
        key=lambda schema: (schema["name"] != stem, len(schema["fields"])),
        default={"name": stem, "title": stem, "description": "", "fields": ()},
    )
    fields = {field["name"]: field for field in schema["fields"]}
    own = [fields.get(column, {"name": column, "type": "string", "description": ""}) for column in columns]
    own = [
        {**field, "constraints": {}} if field.get("sometimes_empty") else field for field in own
    ]  # required of the table, not of each row
    key = (
        {"primaryKey": schema["primaryKey"]}
        if "primaryKey" in schema and set(package.listed(schema["primaryKey"])) <= set(columns)
        else {}
    )
    entry = package.resource(
        path,
        digest,
        size,
        {**{k: schema[k] for k in ("name", "title", "description")}, "fields": own, **key},
        quantities,
    )
    return {**entry, "name": package.name_of(path.removesuffix(".csv"))}


def described_file(path: str, digest: str, size: int) -> dict:
    """An entry of datapackage.json for a file that is no table of one head and rows."""
    ending = path[path.rfind(".") :] if "." in path else ""
    return {
        "profile": "data-resource",
        "type": "file",
        "name": package.name_of(path),
        "path": path,
        "bytes": size,
        "hash": f"sha256:{digest}",
        "mediatype": MEDIA.get(ending, "application/octet-stream"),
    }


README = """\
{title}
{underline}

This is the record of a net-radiation survey: what was measured, what was computed from it, and the program that did so.
It was measured at {site}, {dates}, and computed by Headland {version}.

Is it as it was packed?
    In this folder:   sha256sum --check --quiet manifest-sha256.txt tagmanifest-sha256.txt
    Silence means yes. The zip as a whole, with what was added or renamed, is checked by
    python3 data/project/scripts/headland.py verify FILE.zip
    (Python 3.11 or later, nothing else).

Does it give the same numbers again?
    python3 data/project/scripts/headland.py verify FILE.zip --run
    This executes the programs in this record, so look first at who gave it to you. It makes an environment of its own, for which it
    needs a network{wheels}, computes everything anew in a folder of its own, and says in which column of which table a number differs.
    With the versions in data/versions.json the tables have the same bytes; with others, numbers may differ in their last digit.

What is where?
    data/results/report.html    the report, with every formula and its source; report.pdf is the same on paper
    data/results/*.csv          the tables; tables.xlsx holds them for a spreadsheet
    data/datapackage.json       title, unit and meaning of every column
    data/inputs/                the campaign as it went in
    data/settings.json          every setting in force, defaults filled in
    data/versions.json          what computed the results
    data/samples_and_segments.nc   samples and segments as NetCDF (CF conventions)
    data/project/               the program; its README says how to use it, data/project/requirements.lock names its libraries
    data/ro-crate-metadata.json, bagit.txt, manifest-sha256.txt   the same for machines (RO-Crate 1.1, BagIt 1.0)

Times are UTC. Authors: {authors}. Licence of the data: {licence}.
{remarks}"""


def readme(record: Mapping) -> str:
    """README.txt for who finds the archive. record: as for `crate`, with `remarks` (whether they are in) and
    `wheels` (whether they are).
    """
    one_line = lambda text: " ".join(text.split())
    return README.format(
        title=one_line(record["title"]),
        underline="=" * min(len(one_line(record["title"])), 100),
        site=one_line(record["site"]["name"]),
        dates=" to ".join(dict.fromkeys(record["dates"])),
        version=record["version"],
        authors=one_line(", ".join(record["authors"])) or "not stated",
        licence=record["licence"] or UNSTATED,
        wheels=f", or on {record['versions']['system']} with Python {record['versions']['python'].rpartition('.')[0]} none: data/wheels holds the libraries"
        if record["wheels"]
        else "",
        remarks=""
        if record["remarks"]
        else "The remarks in notes and register were left out before anything was computed.\n",
    )
