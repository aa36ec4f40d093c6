# Step 7: the estimated energy balance.


rule balance:
    message:
        "Estimating the energy balance"
    input:
        code=code("balance"),
        schemas=schemas(
            "segment_means",
            "group_means",
            "group_balance",
            "visit_balance",
            "weather_station",
            "weather",
            "findings",
        ),
        segments=steps("6_summarise", "segments.csv"),
        fields=steps("6_summarise", "fields.csv"),
        surfaces=steps("6_summarise", "surfaces.csv"),
        weather=lambda w: of(w).weather,
        classes=CLASSES,
    output:
        visits_balance=steps("7_balance", "visits.csv"),
        weather_station=steps("7_balance", "weather_station.csv"),
        fields_balance=steps("7_balance", "fields.csv"),
        surfaces_balance=steps("7_balance", "surfaces.csv"),
        findings=steps("7_balance", "all_findings.csv"),
    params:
        digests=lambda w: held(of(w).weather),
        settings=lambda w: as_json(step_settings.balance(of(w).S)),
    group:
        "campaign"
    log:
        steps("7_balance", "balance.log"),
    run:
        job("balance", input, output, params, log)
