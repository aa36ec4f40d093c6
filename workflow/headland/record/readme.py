"""What an archive says about itself for people: README.txt, the citation, the lines of bag-info.txt."""

from __future__ import annotations

import json
from collections.abc import Mapping

from headland.record.describe import UNSTATED
from headland.report import package

README = """\
{title}
{underline}

This is the record of a net-radiation survey: what was measured, what was computed from it, and the program
that did so. It was measured at {site}, {dates}, and computed by Headland {version}.

Is it as it was packed?
    In this folder:   sha256sum --check --quiet manifest-sha256.txt tagmanifest-sha256.txt
    Silence means yes. To check the zip as a whole, get Headland {version} from where its authors publish it,
    not from this record, and run there
    python3 scripts/headland.py verify FILE.zip
    (Python 3.11 or later, nothing else).

Does it give the same numbers again?
    python3 scripts/headland.py verify FILE.zip --run
    Where the programs in this record are those of your copy, yours compute everything again in a folder of
    their own, and you see in which column of which table a number differs. Other programs don't run unless
    you ask for it: they could do anything, and could be written to agree. Your copy needs a network once,
    for its libraries.{wheels}
    With the versions in data/versions.json the tables have the same bytes; with others, the last digit may
    differ.

What is where?
    data/results/report.html    the report, with every formula and its source; report.pdf is the same on paper
    data/results/*.csv          the tables; tables.xlsx holds them for a spreadsheet
    data/datapackage.json       title, unit and meaning of every column
    data/inputs/                the campaign as it went in
    data/settings.json          every setting in force, defaults filled in
    data/versions.json          what computed the results
    data/samples_and_segments.nc   samples and segments as NetCDF (CF conventions)
    data/project/               the program; its README says how to use it, its requirements.lock names
                                the libraries
    data/ro-crate-metadata.json, bagit.txt, manifest-sha256.txt
                                the same for machines (RO-Crate 1.1, BagIt 1.0)

Times are UTC. Authors: {authors}. Licence of the data: {licence}.{doi}
{remarks}"""


def readme(record: Mapping) -> str:
    """README.txt for the person who finds the archive.

    record: as for `crate`, with `remarks` (whether they are in) and `wheels` (whether the libraries are).
    """
    title, versions = _one_line(record["title"]), record["versions"]
    machine = f"{versions['system']} with Python {versions['python'].rpartition('.')[0]}"
    holds_them = f"\n    data/wheels holds them for {machine}."
    return README.format(
        title=title,
        underline="=" * min(len(title), 100),
        site=_one_line(record["site"]["name"]),
        dates=" to ".join(dict.fromkeys(record["dates"])),
        version=record["version"],
        authors=_one_line(", ".join(record["authors"])) or "not stated",
        licence=record["licence"] or UNSTATED,
        doi=f" DOI: {record['doi']}." if record.get("doi") else "",
        wheels=holds_them if record["wheels"] else "",
        remarks="" if record["remarks"] else LEFT_OUT,
    )


LEFT_OUT = (
    "What could name people was left out before anything was computed: remarks, other columns, devices.\n"
)


def citation(record: Mapping) -> str:
    """CITATION.cff of the record; its values are written as JSON texts, which YAML reads as they are."""
    authors = record["authors"] or [f"The authors of “{record['title']}”"]
    dates = " to ".join(dict.fromkeys(record["dates"]))
    abstract = f"Net-radiation survey at {record['site']['name']}, {dates}: inputs, results and workflow."
    words = ("net radiation", "albedo", "surface temperature", "energy balance")
    lines = [
        "cff-version: 1.2.0",
        "message: Cite this record as below, and Headland by the CITATION.cff in its own folder.",
        f"title: {_text(record['title'])}",
        "type: dataset",
        "authors:",
        *(line for name in authors for line in _author(name, record.get("orcid", {}))),
        f"abstract: {_text(abstract)}",
        "keywords:",
        *(f"  - {word}" for word in words),
    ]
    if record.get("doi"):
        lines.append(f"doi: {_text(record['doi'])}")
    if record["licence"]:
        lines.append(f"license: {record['licence']}")
    return "\n".join([*lines, ""])


def _author(name: str, codes: Mapping[str, str]) -> list[str]:
    """An author's lines of CITATION.cff, with the ORCID iD where it is given."""
    code = [f"    orcid: {_text(package.ORCID + codes[name])}"] if name in codes else []
    return [f"  - name: {_text(name)}", *code]


def _one_line(text: str) -> str:
    return " ".join(text.split())


def _text(text: str) -> str:
    return json.dumps(_one_line(text), ensure_ascii=False)


def bag_info(record: Mapping) -> dict[str, str]:
    """Lines of bag-info.txt."""
    return {
        "Bag-Software-Agent": f"Headland {record['version']}",
        "External-Description": f"{record['title']}, {record['site']['name']}",
        "Internal-Sender-Identifier": record["name"],
        "Recording-Dates": " to ".join(dict.fromkeys(record["dates"])),
    }
