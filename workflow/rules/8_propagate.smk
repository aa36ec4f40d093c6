# Step 8: the interval of every number; the tables that users get.


rule propagate:
    message:
        "Working out the intervals"
    input:
        code=code("propagate"),
        schemas=schemas("segment_means", "group_means", "group_balance", "certificates", "segments", "fields", "surfaces", "differences", "uncertainty_budget", "linear_check", "intercomparison", "clouds", "weather", "findings"),
        terms="config/uncertainty.csv",
        segments=steps("6_summarise", "segments.csv"),
        fields=steps("6_summarise", "fields.csv"),
        surfaces=steps("6_summarise", "surfaces.csv"),
        fields_balance=steps("7_balance", "fields.csv"),
        surfaces_balance=steps("7_balance", "surfaces.csv"),
        weather=WEATHER,
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        classes=CLASSES,
    output:
        segments=f"{RESULTS}/segments.csv",
        fields=f"{RESULTS}/fields.csv",
        surfaces=f"{RESULTS}/surfaces.csv",
        differences=f"{RESULTS}/differences.csv",
        budget=f"{RESULTS}/uncertainty_budget.csv",
        linear=steps("8_propagate", "linear_check.csv"),
        intercomparison=steps("8_propagate", "intercomparison.csv"),
        clouds=steps("8_propagate", "clouds.csv"),
        findings=steps("8_propagate", "all_findings.csv"),
    params:
        settings=lambda w: as_json({"overrides": S["overrides"]["surfaces"], "weather": S["weather"], "carrying": S["carrying"],
                          "seed": S["seed"], "draws": config["draws"],
                          "methods": {key: S["methods"][key] for key in ("set_scale", "one_sided")}}),
    log:
        steps("8_propagate", "propagate.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --terms {input.terms:q} --segments-means {input.segments:q} --fields-means {input.fields:q} --surfaces-means {input.surfaces:q} --fields-balance {input.fields_balance:q} --surfaces-balance {input.surfaces_balance:q} --certificates {input.certificates:q} --weather {input.weather:q} --linear {output.linear:q} --intercomparison {output.intercomparison:q} --clouds {output.clouds:q} --segments {output.segments:q} --fields {output.fields:q} --surfaces {output.surfaces:q} --differences {output.differences:q} --budget {output.budget:q} --findings {output.findings:q} > {log:q} 2>&1"
