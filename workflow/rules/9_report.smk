# Step 9: checks, figures, report.

TABLES = ("segments", "surfaces", "fields", "differences", "uncertainty_budget", "checks")
REPORTS = [f"{RESULTS}/{name}.csv" for name in TABLES] + [f"{RESULTS}/datapackage.json"]
FINDINGS = [
    *of_sets("1_ingest", "_findings.csv"), *of_sets("2_calibrate", "_findings.csv"), *of_sets("4_screen", "_findings.csv"),
    *(path for step in ("5_segment", "6_summarise", "7_balance", "8_propagate") for path in steps(step, "all_findings.csv"))]


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
        settings=as_json({"steps": [Path(path).parent.name.split("_", 1)[1] for path in FINDINGS]}),
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
        settings=as_json({"title": S["title"], "name": Path(CAMPAIGN).name, "tables": TABLES}),
    log:
        steps("9_report", "datapackage.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --quantities {input.quantities:q} --tables {input.tables:q} --package {output.package:q} > {log:q} 2>&1"


rule figures:
    message:
        "Drawing the figures"
    input:
        code=code("figures"),
        schemas=schemas("noted", "samples_segmented", "surfaces", "fields", "differences", "uncertainty_budget"),
        classes=CLASSES,
        limits=LIMITS,
        noted=steps("5_segment", "noted_intervals.csv"),
        segmented=of_sets("5_segment"),
        tables=[f"{RESULTS}/{name}.csv" for name in ("surfaces", "fields", "differences", "uncertainty_budget")],
    output:
        figures=directory(f"{RESULTS}/figures"),
    params:
        settings=as_json({"sets": CLOCKS, "overrides": S["overrides"]["surfaces"]}),
    log:
        steps("9_report", "figures.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --limits {input.limits:q} --noted {input.noted:q} --segmented {input.segmented:q} --tables {input.tables:q} --figures {output.figures:q} > {log:q} 2>&1"
