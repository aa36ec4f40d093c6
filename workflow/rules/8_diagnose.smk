# After the numbers: sources compared with each other.


rule diagnose:
    message:
        "Comparing the sources with each other"
    input:
        code=code("diagnose"),
        schemas=schemas(
            "samples_segmented",
            "segment_means",
            "segments",
            "fields",
            "certificates",
            "notes",
            "weather",
            "station",
            "against_station",
            "findings",
            "untold",
        ),
        terms=TERMS,
        limits=LIMITS,
        classes=CLASSES,
        notes=lambda w: of(w).notes,
        weather=lambda w: of(w).weather,
        station=lambda w: of(w).station,
        means=steps("6_summarise", "segments.csv"),
        segments="{results}/segments.csv",
        fields="{results}/fields.csv",
        segmented=of_sets("5_segment"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
    output:
        against_station=steps("8_diagnose", "against_station.csv"),
        findings=steps("8_diagnose", "all_findings.csv"),
        untold=steps("8_diagnose", "untold.csv"),
    params:
        digests=lambda w: held([of(w).notes, *of(w).weather, *of(w).station]),
        settings=lambda w: as_json(step_settings.diagnose(of(w).S)),
    resources:
        mem_mb=memory(400, 2),
    group:
        "campaign"
    log:
        steps("8_diagnose", "diagnose.log"),
    run:
        job("diagnose", input, output, params, log)
