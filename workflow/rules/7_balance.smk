# Step 7: the estimated energy balance.


rule balance:
    message:
        "Estimating the energy balance"
    input:
        code=code("balance"),
        schemas=schemas("segment_means", "group_means", "group_balance", "weather", "findings"),
        segments=steps("6_summarise", "segments.csv"),
        fields=steps("6_summarise", "fields.csv"),
        surfaces=steps("6_summarise", "surfaces.csv"),
        weather=WEATHER,
        classes=CLASSES,
    output:
        fields=steps("7_balance", "fields.csv"),
        surfaces=steps("7_balance", "surfaces.csv"),
        findings=steps("7_balance", "all_findings.csv"),
    params:
        settings=lambda w: as_json({"site": SITE, "weather": S["weather"], "overrides": S["overrides"]["surfaces"],
                          "methods": {key: S["methods"][key] for key in ("ground_heat", "green_cover")}}),
    log:
        steps("7_balance", "balance.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --segments {input.segments:q} --fields {input.fields:q} --surfaces {input.surfaces:q} --weather {input.weather:q} --fields-balance {output.fields:q} --surfaces-balance {output.surfaces:q} --findings {output.findings:q} > {log:q} 2>&1"
