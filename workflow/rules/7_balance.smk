# Step 7: the energy balance, estimated and measured.


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
            "measured_fluxes",
            "weather_station",
            "weather",
            "station",
            "ground",
            "levels",
            "findings",
        ),
        segments=steps("6_summarise", "segments.csv"),
        fields=steps("6_summarise", "fields.csv"),
        surfaces=steps("6_summarise", "surfaces.csv"),
        weather=lambda w: of(w).weather,
        station=lambda w: of(w).station,
        ground=lambda w: of(w).ground,
        levels=lambda w: of(w).levels,
        classes=CLASSES,
    output:
        visits_balance=steps("7_balance", "visits.csv"),
        visits_estimated=steps("7_balance", "visits_estimated.csv"),
        measured_fluxes=steps("7_balance", "measured_fluxes.csv"),
        weather_station=steps("7_balance", "weather_station.csv"),
        fields_balance=steps("7_balance", "fields.csv"),
        surfaces_balance=steps("7_balance", "surfaces.csv"),
        findings=steps("7_balance", "all_findings.csv"),
    params:
        digests=lambda w: held([*of(w).weather, *of(w).station, *of(w).ground, *of(w).levels]),
        settings=lambda w: as_json(step_settings.balance(of(w).S)),
    group:
        "campaign"
    log:
        steps("7_balance", "balance.log"),
    run:
        job("balance", input, output, params, log)
