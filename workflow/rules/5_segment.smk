# Step 5: which sample belongs to which noted interval. All sets at once: the notes are one file.


rule segment:
    message:
        "Placing the samples in the noted intervals"
    input:
        code=code("segment"),
        schemas=schemas("samples_corrected", "samples_screened", "certificates", "notes", "noted", "samples_segmented", "places", "findings"),
        notes=NOTES,
        limits=LIMITS,
        corrected=of_sets("3_correct_longwave"),
        screened=of_sets("4_screen"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        outlines=OUTLINES,
        tracks=list(dict.fromkeys(TRACKS.values())),
    output:
        segmented=of_sets("5_segment"),
        noted=steps("5_segment", "noted_intervals.csv"),
        findings=steps("5_segment", "all_findings.csv"),
        places=of_sets("5_segment", "_places.csv") if PLACED else [],
    params:
        settings=lambda w: as_json({
            "sets": CLOCKS, **S["notes"], "surfaces": S["surfaces"], "site": SITE,
            **({"positions": S["positions"], "tracks": S["track_files"]} if OUTLINES or TRACKS else {}),
            **{key: S["carrying"][key] for key in ("sensor_height", "walking_speed")}}),
    log:
        steps("5_segment", "segment.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --notes {input.notes:q} --limits {input.limits:q} --corrected {input.corrected:q} --screened {input.screened:q} --certificates {input.certificates:q} --segmented {output.segmented:q} --outlines {input.outlines:q} --tracks {input.tracks:q} --places {output.places:q} --noted {output.noted:q} --findings {output.findings:q} > {log:q} 2>&1"
