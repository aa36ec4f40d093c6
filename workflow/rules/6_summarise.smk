# Step 6: means of segments, fields and surfaces.


rule summarise:
    message:
        "Averaging over segments, fields and surfaces"
    input:
        code=code("summarise"),
        schemas=schemas(
            "samples_calibrated",
            "samples_segmented",
            "noted",
            "segment_means",
            "group_means",
            "station",
            "findings",
        ),
        noted=steps("5_segment", "noted_intervals.csv"),
        limits=LIMITS,
        calibrated=of_sets("2_calibrate"),
        segmented=of_sets("5_segment"),
        station=lambda w: of(w).station if of(w).by_station else [],
        classes=CLASSES,
        found=found_before,
    output:
        segments=steps("6_summarise", "segments.csv"),
        fields=steps("6_summarise", "fields.csv"),
        surfaces=steps("6_summarise", "surfaces.csv"),
        findings=steps("6_summarise", "all_findings.csv"),
    params:
        digests=lambda w: held(of(w).station),
        settings=lambda w: as_json(step_settings.summarise(of(w).S)),
    resources:
        mem_mb=memory(400, 2),
    group:
        "campaign"
    log:
        steps("6_summarise", "summarise.log"),
    run:
        job("summarise", input, output, params, log)
