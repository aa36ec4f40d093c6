# Step 9: checks, figures, report.

TABLES = ("segments", "surfaces", "fields", "differences", "uncertainty_budget", "checks")
REPORTS = [*(f"{RESULTS}/{name}.csv" for name in TABLES), f"{RESULTS}/datapackage.json", f"{RESULTS}/tables.xlsx", f"{RESULTS}/figures", f"{RESULTS}/report.html"]
if text_layout_is_there():
    REPORTS.append(f"{RESULTS}/report.pdf")
else:
    print("No PDF: the text-layout library (Pango) is missing; everything else is made. "
          "Debian/Ubuntu and Windows (WSL): sudo apt install libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0. macOS: brew install pango.", file=sys.stderr)

INPUTS = [f"{CAMPAIGN}/campaign.yaml", REGISTER, NOTES, *WEATHER, *STATION, *OUTLINES, *dict.fromkeys(TRACKS.values()), "config/config.yaml", CLASSES, LIMITS, "config/uncertainty.csv",
          *sorted({f"config/layouts/{entry['layout_name']}.yaml" for entry in S["sets"].values() if entry["layout_name"]})]


def inputs_by_content():
    """Name, size and SHA-256 of every file that went in, as the report lists them."""
    paths = [*INPUTS, *(path for name in SETS for path in raw_files(name))]
    shown = [str(Path(path).relative_to(CAMPAIGN)) if Path(path).is_relative_to(CAMPAIGN) else path for path in paths]
    return [[name, (ROOT / path).stat().st_size, tables.digest(ROOT / path)] for name, path in zip(shown, paths)]


FINDINGS = [
    *FOUND_BEFORE, *(path for step in ("6_summarise", "7_balance", "8_propagate", "8_diagnose") for path in steps(step, "all_findings.csv"))]


rule checks:
    message:
        "Collecting what was found"
    input:
        code=code("checks"),
        sentences="workflow/headland/findings.csv",
        schemas=schemas("findings", "checks"),
        findings=FINDINGS,
    output:
        checks=f"{RESULTS}/checks.csv",
    params:
        settings=lambda w: as_json({"steps": [Path(path).parent.name.split("_", 1)[1] for path in FINDINGS]}),
    log:
        steps("9_report", "checks.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --sentences {input.sentences:q} --findings {input.findings:q} --checks {output.checks:q} > {log:q} 2>&1"


rule datapackage:
    message:
        "Describing the tables"
    input:
        code=code("datapackage"),
        schemas=schemas(*TABLES),
        quantities="workflow/headland/quantities.csv",
        tables=[f"{RESULTS}/{name}.csv" for name in TABLES],
    output:
        package=f"{RESULTS}/datapackage.json",
    params:
        settings=lambda w: as_json({"title": S["title"], "name": Path(CAMPAIGN).name, "tables": TABLES}),
    log:
        steps("9_report", "datapackage.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --quantities {input.quantities:q} --tables {input.tables:q} --package {output.package:q} > {log:q} 2>&1"


rule workbook:
    message:
        "Filling the workbook"
    input:
        code=code("workbook"),
        package=f"{RESULTS}/datapackage.json",
        tables=[f"{RESULTS}/{name}.csv" for name in TABLES],
    output:
        workbook=f"{RESULTS}/tables.xlsx",
    log:
        steps("9_report", "workbook.log"),
    shell:
        "python {input.code[0]:q} --package {input.package:q} --tables {input.tables:q} --workbook {output.workbook:q} > {log:q} 2>&1"


rule figures:
    message:
        "Drawing the figures"
    input:
        code=code("figures"),
        schemas=schemas("noted", "samples_segmented", "surfaces", "fields", "differences", "uncertainty_budget", "clouds", "places"),
        outlines=OUTLINES if PLACED else [],
        places=of_sets("5_segment", "_places.csv") if PLACED else [],
        classes=CLASSES,
        limits=LIMITS,
        noted=steps("5_segment", "noted_intervals.csv"),
        segmented=of_sets("5_segment"),
        tables=[*(f"{RESULTS}/{name}.csv" for name in ("surfaces", "fields", "differences", "uncertainty_budget")), *steps("8_propagate", "clouds.csv")],
    output:
        figures=directory(f"{RESULTS}/figures"),
    params:
        settings=lambda w: as_json({"sets": CLOCKS, "overrides": S["overrides"]["surfaces"], "site": SITE, "carrying": S["carrying"], **({"positions": S["positions"]} if PLACED else {})}),
    log:
        steps("9_report", "figures.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --limits {input.limits:q} --noted {input.noted:q} --segmented {input.segmented:q} --tables {input.tables:q} --outlines {input.outlines:q} --places {input.places:q} --figures {output.figures:q} > {log:q} 2>&1"


rule worked:
    message:
        "Following one number all the way"
    input:
        code=code("worked"),
        schemas=schemas("samples_raw", "samples_segmented", "certificates", "instruments", "segment_means", "group_balance", "worked"),
        classes=CLASSES,
        limits=LIMITS,
        register=REGISTER,
        means=steps("6_summarise", "segments.csv"),
        balances=steps("7_balance", "surfaces.csv"),
        raw=of_sets("1_ingest"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        segmented=of_sets("5_segment"),
    output:
        worked=steps("9_report", "worked.csv"),
    params:
        settings=lambda w: as_json({"overrides": S["overrides"]["surfaces"], "sets": {name: {"channels": CHANNELS[name], "longwave": S["sets"][name]["longwave"]} for name in SETS}}),
    log:
        steps("9_report", "worked.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --limits {input.limits:q} --register {input.register:q} --means {input.means:q} --balances {input.balances:q} --raw {input.raw:q} --certificates {input.certificates:q} --segmented {input.segmented:q} --worked {output.worked:q} > {log:q} 2>&1"


rule report:
    message:
        "Writing the report"
    input:
        code=code("report"),
        schemas=schemas("samples_segmented", "certificates", "segment_means", "linear_check", "intercomparison", "weather", "worked", *TABLES),
        template="workflow/report/report.html.jinja",
        style="workflow/report/style.css",
        screen_style="workflow/report/screen.css",
        program="workflow/report/explore.js",
        equations="workflow/report/equations.csv",
        quantities="workflow/headland/quantities.csv",
        classes=CLASSES,
        limits=LIMITS,
        terms="config/uncertainty.csv",
        figures=f"{RESULTS}/figures",
        means=steps("6_summarise", "segments.csv"),
        linear=steps("8_propagate", "linear_check.csv"),
        intercomparison=steps("8_propagate", "intercomparison.csv"),
        worked=steps("9_report", "worked.csv"),
        segmented=of_sets("5_segment"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        weather=WEATHER,
        tables=[f"{RESULTS}/{name}.csv" for name in TABLES],
        inputs=INPUTS,
    output:
        page=f"{RESULTS}/report.html",
    params:
        settings=lambda w: as_json({
            "title": S["title"], "site": S["site"], "zone": S["notes"]["timezone"], "weather": S["weather"], "draws": config["draws"], "version": VERSION,
            "certificate": S["methods"]["certificate"], "ground_heat": S["methods"]["ground_heat"], "set_scale": S["methods"]["set_scale"],
            "one_sided": S["methods"]["one_sided"], "overrides": S["overrides"]["surfaces"], "inputs": inputs_by_content(),
            "changed": settings.changed(S), "seed": S["seed"],
            "sets": {name: {"logger_id": entry["logger_id"], "raw": entry["raw"], "interval": entry["layout"]["interval"]} for name, entry in S["sets"].items()}}),
    log:
        steps("9_report", "report.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --template {input.template:q} --style {input.style:q} --screen-style {input.screen_style:q} --equations {input.equations:q} --quantities {input.quantities:q} --classes {input.classes:q} --limits {input.limits:q} --terms {input.terms:q} --figures {input.figures:q} --means {input.means:q} --linear {input.linear:q} --intercomparison {input.intercomparison:q} --worked {input.worked:q} --program {input.program:q} --segmented {input.segmented:q} --certificates {input.certificates:q} --weather {input.weather:q} --tables {input.tables:q} --page {output.page:q} > {log:q} 2>&1"


rule report_pdf:
    message:
        "Laying out the PDF"
    input:
        code=code("report_pdf"),
        page=f"{RESULTS}/report.html",
        tables=[f"{RESULTS}/{name}.csv" for name in TABLES],
    output:
        pdf=f"{RESULTS}/report.pdf",
    log:
        steps("9_report", "report_pdf.log"),
    shell:
        "python {input.code[0]:q} --page {input.page:q} --tables {input.tables:q} --pdf {output.pdf:q} > {log:q} 2>&1"
