# After the numbers: sources held against each other.


rule diagnose:
    message:
        "Holding the sources against each other"
    input:
        code=code("diagnose"),
        schemas=schemas("samples_segmented", "segment_means", "segments", "fields", "certificates", "notes", "weather", "station", "findings"),
        terms="config/uncertainty.csv",
        limits=LIMITS,
        classes=CLASSES,
        notes=NOTES,
        weather=WEATHER,
        station=STATION,
        means=steps("6_summarise", "segments.csv"),
        segments=f"{RESULTS}/segments.csv",
        fields=f"{RESULTS}/fields.csv",
        segmented=of_sets("5_segment"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
    output:
        findings=steps("8_diagnose", "all_findings.csv"),
    params:
        settings=lambda w: as_json({
            "sets": CLOCKS, **S["notes"], "overrides": S["overrides"]["surfaces"], "weather": S["weather"], "carrying": S["carrying"], "stamp": S["station"]["stamp"]}),
    log:
        steps("8_diagnose", "diagnose.log"),
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --classes {input.classes:q} --terms {input.terms:q} --limits {input.limits:q} --notes {input.notes:q} --means {input.means:q} --segments {input.segments:q} --fields {input.fields:q} --segmented {input.segmented:q} --certificates {input.certificates:q} --weather {input.weather:q} --station {input.station:q} --findings {output.findings:q} > {log:q} 2>&1"
