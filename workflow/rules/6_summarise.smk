# Step 6: means of segments, fields and surfaces.

# what the steps before found: an error withholds the numbers that it makes untrustworthy
FOUND_BEFORE = [*of_sets("1_ingest", "_findings.csv"), *of_sets("2_calibrate", "_findings.csv"), *of_sets("4_screen", "_findings.csv"), *steps("5_segment", "all_findings.csv")]


rule summarise:
    message:
        "Averaging over segments, fields and surfaces"
    input:
        code=code("summarise"),
        schemas=schemas("samples_calibrated", "samples_segmented", "noted", "segment_means", "group_means", "station", "findings"),
        noted=steps("5_segment", "noted_intervals.csv"),
        limits=LIMITS,
        calibrated=of_sets("2_calibrate"),
        segmented=of_sets("5_segment"),
        classes=CLASSES,
        found=FOUND_BEFORE,
        station=STATION if S["methods"]["incoming_terms"] == "station" else [],
    output:
        segments=steps("6_summarise", "segments.csv"),
        fields=steps("6_summarise", "fields.csv"),
        surfaces=steps("6_summarise", "surfaces.csv"),
        findings=steps("6_summarise", "all_findings.csv"),
    params:
        settings=lambda w: as_json({"sets": CLOCKS, "notes": S["notes_file"], "overrides": S["overrides"]["surfaces"],
            **({"stamp": S["station"]["stamp"]} if S["methods"]["incoming_terms"] == "station" else {})}),
    log:
        steps("6_summarise", "summarise.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --noted {input.noted:q} --limits {input.limits:q} --calibrated {input.calibrated:q} --segmented {input.segmented:q} --found {input.found:q} --station {input.station:q} --segments {output.segments:q} --fields {output.fields:q} --surfaces {output.surfaces:q} --findings {output.findings:q} > {log:q} 2>&1"
