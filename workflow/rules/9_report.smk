# Step 9: checks, figures, report.


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
            {
                "title": of(w).S["title"],
                "name": Path(of(w).folder).name,
                "tables": TABLES,
                "credit": credit.of(of(w).S),
            }
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
        schemas=schemas(
            "surfaces", "fields", "differences", "measured", "uncertainty_budget", "segment_means"
        ),
        classes=CLASSES,
        drawn=steps("9_report", "figures_of_samples"),
        means=steps("6_summarise", "segments.csv"),
        tables=[
            f"{{results}}/{name}.csv"
            for name in ("surfaces", "fields", "differences", "measured", "uncertainty_budget")
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


# A rule of its own: no edit of the notes changes an equation, and drawing them takes half of the report's
# time.
rule equations:
    message:
        "Drawing the equations"
    input:
        code=code("equations"),
        equations="workflow/headland/report/equations.csv",
    output:
        pictures=directory(steps("9_report", "equations")),
    group:
        "campaign"
    log:
        steps("9_report", "equations.log"),
    run:
        job("equations", input, output, params, log)


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


rule questions:
    message:
        "Asking the questions"
    input:
        code=code("questions"),
        schemas=schemas("surfaces", "differences", "worked", "samples_segmented"),
        classes=CLASSES,
        limits=LIMITS,
        surfaces="{results}/surfaces.csv",
        differences="{results}/differences.csv",
        worked=steps("9_report", "worked.csv"),
        segmented=of_sets("5_segment"),
    output:
        questions=steps("9_report", "questions.json"),
    params:
        settings=lambda w: as_json(step_settings.worked(of(w).S)),
    group:
        "campaign"
    log:
        steps("9_report", "questions.log"),
    run:
        job("questions", input, output, params, log)


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
        drawn_equations=steps("9_report", "equations"),
        # the exercises' questions are printed only where they are asked for
        questions=steps("9_report", "questions.json") if "questions" in (config.get("also") or []) else [],
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
