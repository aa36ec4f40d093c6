"""What an archive says about itself for machines: the crate's metadata (RO-Crate 1.1, Workflow Run Crate).

It is a function of the campaign, its results and the versions alone, so that equal inputs give an equal
archive; there is no date of packing. People are named only where campaign.yaml states them as authors.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from headland.record.describe import MEDIA, UNSTATED
from headland.report import package

CONTEXT = ["https://w3id.org/ro/crate/1.1/context", "https://w3id.org/ro/terms/workflow-run/context"]


PROFILES = {
    "https://w3id.org/ro/wfrun/process/0.5": ("Process Run Crate", "0.5"),
    "https://w3id.org/ro/wfrun/workflow/0.5": ("Workflow Run Crate", "0.5"),
    "https://w3id.org/workflowhub/workflow-ro-crate/1.0": ("Workflow RO-Crate", "1.0"),
}


WORKFLOW, LOCK = "project/Snakefile", "project/requirements.lock"
PARAMETER_PROFILE = "https://bioschemas.org/profiles/FormalParameter/1.0-RELEASE"


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
    ("ground.", "soil heat flux plates"),
    ("levels.", "air at two heights"),
    ("fields.geojson", "outlines of the fields"),
    ("track", "GPS track of the walks"),
    ("", "logger file"),
)
"""What an input is, by the beginning of its name."""


def kind_of(name: str) -> str:
    """What an input file is. name: in the campaign folder."""
    return next(kind for beginning, kind in KINDS if name.startswith(beginning))


def crate(record: Mapping, files: Mapping[str, tuple[int, str]]) -> dict:
    """The crate's metadata, ro-crate-metadata.json.

    Parameters
    ----------
    record : title, site, dates (first and last day), authors, licence, version, versions, name (of the
        campaign folder).
    files : bytes and SHA-256 of every file of the crate by its path, this one left out.
    """
    wanted = {path: entry for path, entry in files.items() if not path.startswith(("project/", "wheels/"))}
    for path in (WORKFLOW, LOCK):
        if path in files:
            wanted[path] = files[path]
    folders = [name for name in FOLDERS if any(path.startswith(f"{name}/") for path in files)]
    inputs = [path for path in wanted if path.startswith("inputs/")]
    results = [path for path in wanted if path.startswith("results/") and path.count("/") == 1]
    authors = [
        {"@id": _person(record, name, number), "@type": "Person", "name": name}
        for number, name in enumerate(record["authors"], 1)
    ]
    parameters, outputs = _parameters(inputs), _outputs(results)
    kinds = {str(parameter["name"]): str(parameter["@id"]) for parameter in parameters}
    files_of_crate = [_file(path, wanted[path][0], kinds, outputs) for path in wanted if path != WORKFLOW]
    graph = [
        _metadata(),
        _root(record, wanted, folders, authors),
        *authors,
        *_licence_and_site(record),
        *_folders(folders, wanted),
        *files_of_crate,
        _workflow(record, wanted[WORKFLOW][0], parameters, outputs),
        _language(record),
        *parameters,
        *outputs,
        _run(record, inputs, results, authors),
        *_profiles(),
    ]
    return {"@context": CONTEXT, "@graph": graph}


def _person(record: Mapping, name: str, number: int) -> str:
    """A person's address by the ORCID iD, or a name inside the record."""
    code = record.get("orcid", {}).get(name)
    return f"{package.ORCID}{code}" if code else f"#author-{number}"


def _ids(names: Iterable[str]) -> list[dict] | dict:
    """References to entities; to a single one without a list, as the crate's standard asks."""
    references = [{"@id": name} for name in names]
    return references[0] if len(references) == 1 else references


def _metadata() -> dict:
    conforms = ["https://w3id.org/ro/crate/1.1", "https://w3id.org/workflowhub/workflow-ro-crate/1.0"]
    return {
        "@id": "ro-crate-metadata.json",
        "@type": "CreativeWork",
        "about": {"@id": "./"},
        "conformsTo": _ids(conforms),
    }


def _root(record: Mapping, wanted: Mapping, folders: Sequence[str], authors: Sequence[Mapping]) -> dict:
    first, last = record["dates"]
    what = "inputs, results, settings in force and the workflow that made them."
    title = f"Record of the net-radiation survey “{record['title']}” at {record['site']['name']}"
    root = {
        "@id": "./",
        "@type": "Dataset",
        "name": record["title"],
        "description": f"{title}: {what}",
        # an archive has no date of packing: the last day of the recording takes its place
        "datePublished": last,
        "temporalCoverage": f"{first}/{last}",
        "license": {"@id": "#licence"},
        "conformsTo": _ids(PROFILES),
        "mainEntity": {"@id": WORKFLOW},
        "mentions": {"@id": "#run"},
        "spatialCoverage": {"@id": "#site"},
        "hasPart": _ids([*(f"{name}/" for name in folders), *(path for path in wanted if "/" not in path)]),
    }
    if record.get("doi"):
        root["identifier"] = f"{package.DOI}{record['doi']}"
    if authors:
        root["author"] = _ids(author["@id"] for author in authors)
    return root


def _parameters(inputs: Sequence[str]) -> list[dict]:
    """One entity for each kind of input that there is."""
    found = []
    for number, (_, kind) in enumerate(KINDS, 1):
        own = [path for path in inputs if _kind_of_path(path) == kind]
        if own:
            found.append(_parameter(f"#in-{number}", kind, _ids(own)))
    return found


def _outputs(results: Sequence[str]) -> list[dict]:
    return [
        _parameter(f"#out-{number}", path.split("/")[1], {"@id": path})
        for number, path in enumerate(results, 1)
    ]


def _parameter(name: str, kind: str, example: object) -> dict:
    return {
        "@id": name,
        "@type": "FormalParameter",
        "additionalType": "File",
        "name": kind,
        "conformsTo": {"@id": PARAMETER_PROFILE},
        "workExample": example,
    }


def _licence_and_site(record: Mapping) -> list[dict]:
    site = record["site"]
    return [
        {
            "@id": "#licence",
            "@type": "CreativeWork",
            "name": record["licence"] or UNSTATED,
            "description": "Licence of the data in this record.",
        },
        {"@id": "#site", "@type": "Place", "name": site["name"], "geo": {"@id": "#coordinates"}},
        {
            "@id": "#coordinates",
            "@type": "GeoCoordinates",
            "latitude": site["latitude"],
            "longitude": site["longitude"],
            "elevation": site["elevation"],
            "name": "Coordinates of the site",
        },
    ]


def _folders(folders: Sequence[str], wanted: Mapping) -> list[dict]:
    return [
        {
            "@id": f"{name}/",
            "@type": "Dataset",
            "name": FOLDERS[name][0],
            "description": FOLDERS[name][1],
            "hasPart": _ids(path for path in wanted if path.startswith(f"{name}/")),
        }
        for name in folders
    ]


def _workflow(record: Mapping, size: int, parameters: Sequence[Mapping], outputs: Sequence[Mapping]) -> dict:
    return {
        "@id": WORKFLOW,
        "@type": ["File", "SoftwareSourceCode", "ComputationalWorkflow"],
        "name": f"Headland {record['version']}",
        "description": "From a walked net-radiation survey to a lab report.",
        "version": record["version"],
        "license": "MIT",
        "contentSize": str(size),
        "encodingFormat": "text/plain",
        "programmingLanguage": {"@id": "#snakemake"},
        "conformsTo": {"@id": "https://bioschemas.org/profiles/ComputationalWorkflow/1.0-RELEASE"},
        "input": _ids(parameter["@id"] for parameter in parameters),
        "output": _ids(output["@id"] for output in outputs),
        "softwareRequirements": {"@id": LOCK},
    }


def _language(record: Mapping) -> dict:
    return {
        "@id": "#snakemake",
        "@type": "ComputerLanguage",
        "name": "Snakemake",
        "version": record["versions"]["libraries"].get("snakemake", ""),
        "url": {"@id": "https://snakemake.readthedocs.io"},
    }


def _run(record: Mapping, inputs: Sequence[str], results: Sequence[str], authors: Sequence[Mapping]) -> dict:
    how = "with the settings in settings.json, by the versions in versions.json."
    run = {
        "@id": "#run",
        "@type": "CreateAction",
        "name": f"Run of Headland {record['version']} on {record['title']}",
        "description": f"From the inputs to the results, {how}",
        "instrument": {"@id": WORKFLOW},
        "object": _ids(inputs),
        "result": _ids(results),
        "actionStatus": "http://schema.org/CompletedActionStatus",
    }
    if authors:
        run["agent"] = {"@id": authors[0]["@id"]}
    return run


def _profiles() -> list[dict]:
    return [
        {"@id": address, "@type": "CreativeWork", "name": name, "version": version}
        for address, (name, version) in PROFILES.items()
    ]


def _kind_of_path(path: str) -> str:
    """What an input is. path: in the archive, inputs/CAMPAIGN/NAME."""
    return kind_of(path.split("/", 2)[2])


def _file(path: str, size: int, kinds: Mapping[str, str], outputs: Sequence[Mapping]) -> dict:
    """The entity of a file. kinds: identifiers of the parameters by kind. outputs: the results' entities."""
    ending = path[path.rfind(".") :] if "." in path else ""
    entity: dict = {
        "@id": path,
        "@type": "File",
        "name": path.rsplit("/", 1)[-1],
        "contentSize": str(size),
        "encodingFormat": MEDIA.get(ending, "application/octet-stream"),
    }
    if path in PARTS:
        entity["description"] = PARTS[path]
    if path.startswith("inputs/"):
        kind = _kind_of_path(path)
        entity |= {"description": kind, "exampleOfWork": {"@id": kinds[kind]}}
    own = next((output["@id"] for output in outputs if output["workExample"]["@id"] == path), None)
    return entity | ({"exampleOfWork": {"@id": own}} if own else {})
