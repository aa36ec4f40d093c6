# Step 9: checks, figures, report.

from headland.report import attached, pango

TABLES = ("segments", "surfaces", "fields", "differences", "uncertainty_budget", "checks")
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


rule checks:
    message:
        "Collecting what was found"
    input:
        code=code("checks"),
        sentences="workflow/headland/checks/findings.csv",
        reasons="workflow/headland/checks/untold.csv",
        schemas=schemas("findings", "checks", "untold"),
        findings=findings,
        unknown=unknown,
    output:
        checks="{results}/checks.csv",
        untold=steps("9_report", "untold.csv"),
    params:
        settings=lambda w: as_json(
            {"steps": [Path(path).parent.name.split("_", 1)[1] for path in findings(w)]}
        ),
    group:
        "campaign"
    log:
        steps("9_report", "checks.log"),
    run:
        job("checks", input, output, params, log)


rule datapackage:
    message:
        "Describing the tables"
    input:
        code=code("datapackage"),
        schemas=schemas(*TABLES),
        quantities="workflow/headland/quantities.csv",
        tables=TABLE_FILES,
    output:
        package="{results}/datapackage.json",
    params:
        settings=lambda w: as_json(
            {"title": of(w).S["title"], "name": Path(of(w).folder).name, "tables": TABLES}
        ),
    group:
        "campaign"
    log:
        steps("9_report", "datapackage.log"),
    run:
        job("datapackage", input, output, params, log)


rule workbook:
    message:
        "Filling the workbook"
    input:
        code=code("workbook"),
        package="{results}/datapackage.json",
        tables=TABLE_FILES,
    output:
        workbook="{results}/tables.xlsx",
    group:
        "campaign"
    log:
        steps("9_report", "workbook.log"),
    run:
        job("workbook", input, output, params, log)


# two rules for the figures, because what was recorded can be drawn while the numbers are still being computed
rule figures_of_samples:
    message:
        "Drawing what was recorded"
    input:
        code=code("figures_of_samples"),
        schemas=schemas("noted", "samples_segmented", "places"),
        classes=CLASSES,
        limits=LIMITS,
        noted=steps("5_segment", "noted_intervals.csv"),
        segmented=of_sets("5_segment"),
        outlines=lambda w: of(w).outlines if of(w).placed else [],
        places=lambda w: of_sets("5_segment", "_places.csv")(w) if of(w).placed else [],
    output:
        figures=directory(steps("9_report", "figures_of_samples")),
    params:
        digests=lambda w: held(of(w).outlines),
        settings=lambda w: as_json(step_settings.figures_of_samples(of(w).S)),
    group:
        "campaign"
    log:
        steps("9_report", "figures_of_samples.log"),
    run:
        job("figures_of_samples", input, output, params, log)


rule figures:
    message:
        "Drawing the figures"
    input:
        code=code("figures"),
        schemas=schemas("surfaces", "fields", "differences", "uncertainty_budget", "segment_means"),
        classes=CLASSES,
        drawn=steps("9_report", "figures_of_samples"),
        means=steps("6_summarise", "segments.csv"),
        tables=[
            f"{{results}}/{name}.csv" for name in ("surfaces", "fields", "differences", "uncertainty_budget")
        ],
    output:
        figures=directory("{results}/figures"),
    params:
        settings=lambda w: as_json(step_settings.figures(of(w).S)),
    group:
        "campaign"
    log:
        steps("9_report", "figures.log"),
    run:
        job("figures", input, output, params, log)


rule worked:
    message:
        "Following one number all the way"
    input:
        code=code("worked"),
        schemas=schemas(
            "samples_raw",
            "samples_segmented",
            "certificates",
            "instruments",
            "segment_means",
            "visit_balance",
            "worked",
        ),
        classes=CLASSES,
        limits=LIMITS,
        register=lambda w: of(w).register,
        means=steps("6_summarise", "segments.csv"),
        balances=steps("7_balance", "visits.csv"),
        raw=of_sets("1_ingest"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        segmented=of_sets("5_segment"),
    output:
        worked=steps("9_report", "worked.csv"),
    params:
        digests=lambda w: held([of(w).register]),
        settings=lambda w: as_json(step_settings.worked(of(w).S)),
    group:
        "campaign"
    log:
        steps("9_report", "worked.log"),
    run:
        job("worked", input, output, params, log)


rule report:
    message:
        "Writing the report"
    input:
        code=code("report"),
        schemas=schemas(
            "samples_segmented",
            "certificates",
            "segment_means",
            "group_balance",
            "linear_check",
            "intercomparison",
            "against_station",
            "weather",
            "worked",
            "untold",
            *TABLES,
        ),
        layout=PAGES,
        program="workflow/headland/report/explore.js",
        equations="workflow/headland/report/equations.csv",
        quantities="workflow/headland/quantities.csv",
        classes=CLASSES,
        limits=LIMITS,
        terms=TERMS,
        figures="{results}/figures",
        means=steps("6_summarise", "segments.csv"),
        balances=steps("7_balance", "surfaces.csv"),
        linear=steps("8_propagate", "linear_check.csv"),
        intercomparison=steps("8_propagate", "intercomparison.csv"),
        against_station=steps("8_diagnose", "against_station.csv"),
        worked=steps("9_report", "worked.csv"),
        untold=steps("9_report", "untold.csv"),
        segmented=of_sets("5_segment"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        weather=lambda w: of(w).weather,
        tables=TABLE_FILES,
        inputs=inputs,
    output:
        page="{results}/report.html",
    params:
        settings=lambda w: as_json(settings_of_report(w)),
    group:
        "campaign"
    log:
        steps("9_report", "report.log"),
    run:
        job("report", input, output, params, log)


rule report_pdf:
    message:
        "Laying out the PDF"
    input:
        code=code("report_pdf"),
        page="{results}/report.html",
        figures="{results}/figures",
        attached=ATTACHED,
    output:
        pdf="{results}/report.pdf",
    group:
        "campaign"
    log:
        steps("9_report", "report_pdf.log"),
    run:
        job("report_pdf", input, output, params, log)
