# What the rules of the report read and make, and the settings of its page.

from headland.report import attached, pango

TABLES = ("segments", "surfaces", "fields", "differences", "measured", "uncertainty_budget", "checks")
TABLE_FILES = [f"{{results}}/{name}.csv" for name in TABLES]
REPORTS = [
    *TABLE_FILES,
    *(f"{{results}}/{name}" for name in ("datapackage.json", "tables.xlsx", "figures", "report.html")),
]
if pango.is_missing():
    if workflow.is_main_process:
        print(pango.HOW_TO_INSTALL, file=sys.stderr)
else:
    REPORTS.append("{results}/report.pdf")
PARTS = (
    "answer",
    "differences",
    "recorded",
    "balance",
    "uncertainty",
    "one_number",
    "findings",
    "methods",
)
PAGES = [
    f"workflow/headland/report/{name}"
    for name in (
        "style.css",
        "report.html.jinja",
        "macros.html.jinja",
        "appendix.html.jinja",
        "questions.html.jinja",
        *(f"page_{part}.html.jinja" for part in PARTS),
    )
]
ATTACHED = [
    *TABLE_FILES,
    "{results}/tables.xlsx",
    "config/surfaces.csv",
    TERMS,
    "workflow/headland/quantities.csv",
]


def inputs(wildcards):
    """Everything that went into a campaign's results but the logger files."""
    c = of(wildcards)
    layouts = {entry["layout_name"] for entry in c.S["sets"].values() if entry["layout_name"]}
    return [
        f"{c.folder}/campaign.yaml",
        c.register,
        c.notes,
        *c.weather,
        *c.station,
        *c.ground,
        *c.levels,
        *c.outlines,
        *c.tracks,
        "config/config.yaml",
        CLASSES,
        LIMITS,
        TERMS,
        COURSE,
        *(f"config/layouts/{name}.yaml" for name in sorted(layouts)),
    ]


def inputs_by_content(wildcards):
    """Name, size and SHA-256 of every file that went in, as the report lists them."""
    c = of(wildcards)
    paths = [*inputs(wildcards), *(path for name in c.sets for path in c.raw(name))]
    inside = [Path(path).is_relative_to(c.folder) for path in paths]
    shown = [str(Path(p).relative_to(c.folder)) if is_in else p for p, is_in in zip(paths, inside)]
    return [[name, (ROOT / path).stat().st_size, digest(path)] for name, path in zip(shown, paths)]


def findings(wildcards):
    """What every step found, in the order of the chain."""
    later = ("6_summarise", "7_balance", "8_propagate", "8_diagnose")
    return [
        *found_before(wildcards),
        *(f"{wildcards.results}/steps/{step}/all_findings.csv" for step in later),
    ]


def unknown(wildcards):
    """What the steps could not check."""
    later = ("5_segment", "8_diagnose")
    return [
        *of_sets("4_screen", "_untold.csv")(wildcards),
        *(f"{wildcards.results}/steps/{step}/untold.csv" for step in later),
    ]


def settings_of_report(wildcards):
    """What the report needs beside the tables."""
    S = of(wildcards).S
    return {
        **step_settings.report(S, config["draws"]),
        "version": VERSION,
        "attached": attached.names(ATTACHED),
        "inputs": inputs_by_content(wildcards),
        "changed": settings.changed(S),
    }


ALSO = {"geojson": "{results}/results.geojson", "netcdf": "{results}/results.nc"}


def also(results):
    """Files beside the tables that are asked for, or that a run before made."""
    asked = config.get("also") or []
    paths = {name: path.format(results=results) for name, path in ALSO.items()}
    return [path for name, path in paths.items() if name in asked or (ROOT / path).exists()]
