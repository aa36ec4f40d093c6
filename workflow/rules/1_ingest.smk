# Step 1: raw logger files to one table of samples as stored.


rule ingest:
    message:
        "Reading the logger files of {wildcards.set}"
    input:
        code=code("ingest"),
        schemas=schemas("samples_raw", "findings"),
        # a file may be large, so its content is judged by the digest below and its date not at all
        raw=lambda w: ancient(raw_files(w.set)),
    output:
        samples=f"{RESULTS}/steps/1_ingest/{{set}}.csv",
        findings=f"{RESULTS}/steps/1_ingest/{{set}}_findings.csv",
    params:
        settings=lambda w: as_json({
            "set": w.set, **{key: S["sets"][w.set][key] for key in ("logger_id", "utc_offset", "files", "layout", "raw")}}),
        digests=lambda w: [tables.digest(Path(ROOT / path)) for path in raw_files(w.set)],
    log:
        f"{RESULTS}/steps/1_ingest/{{set}}.log",
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --raw {input.raw:q} --samples {output.samples:q} --findings {output.findings:q} > {log:q} 2>&1"
