# Step 8: the interval of every number; the tables that users get.


rule propagate:
    message:
        "Estimating the intervals"
    input:
        code=code("propagate"),
        schemas=schemas(
            "segment_means",
            "group_means",
            "group_balance",
            "visit_balance",
            "visits",
            "measured_fluxes",
            "measured_visits",
            "measured",
            "certificates",
            "segments",
            "fields",
            "surfaces",
            "differences",
            "uncertainty_budget",
            "linear_check",
            "intercomparison",
            "clouds",
            "weather",
            "findings",
        ),
        terms=TERMS,
        course=COURSE,
        segments_means=steps("6_summarise", "segments.csv"),
        fields_means=steps("6_summarise", "fields.csv"),
        surfaces_means=steps("6_summarise", "surfaces.csv"),
        visits_balance=steps("7_balance", "visits.csv"),
        visits_estimated=steps("7_balance", "visits_estimated.csv"),
        measured_fluxes=steps("7_balance", "measured_fluxes.csv"),
        fields_balance=steps("7_balance", "fields.csv"),
        surfaces_balance=steps("7_balance", "surfaces.csv"),
        weather=lambda w: of(w).weather,
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        classes=CLASSES,
    output:
        segments="{results}/segments.csv",
        fields="{results}/fields.csv",
        surfaces="{results}/surfaces.csv",
        visits=steps("8_propagate", "visits.csv"),
        measured_visits=steps("8_propagate", "measured_visits.csv"),
        measured="{results}/measured.csv",
        differences="{results}/differences.csv",
        budget="{results}/uncertainty_budget.csv",
        linear=steps("8_propagate", "linear_check.csv"),
        intercomparison=steps("8_propagate", "intercomparison.csv"),
        clouds=steps("8_propagate", "clouds.csv"),
        findings=steps("8_propagate", "all_findings.csv"),
    params:
        digests=lambda w: held(of(w).weather),
        settings=lambda w: as_json(step_settings.propagate(of(w).S, config["draws"])),
    resources:
        # the draws of all segments at once
        mem_mb=memory(900, 1),
    group:
        "campaign"
    log:
        steps("8_propagate", "propagate.log"),
    run:
        job("propagate", input, output, params, log)
