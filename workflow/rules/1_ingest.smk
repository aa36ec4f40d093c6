# Step 1: raw logger files to one table of samples as stored.


rule ingest:
    message:
        "Reading the logger files of {wildcards.set}"
    input:
        code=code("ingest"),
        schemas=schemas("samples_raw", "findings"),
        # a file may be large, so its content is judged by the digest below and its date not at all
        raw=lambda w: ancient(of(w).raw(w.set)),
    output:
        samples="{results}/steps/1_ingest/{set}.csv",
        findings="{results}/steps/1_ingest/{set}_findings.csv",
    params:
        settings=lambda w: as_json({
            "set": w.set, **{key: of(w).S["sets"][w.set][key] for key in ("logger_id", "utc_offset", "files", "layout", "raw")}}),
        digests=lambda w: [digest(path) for path in of(w).raw(w.set)],
    log:
        "{results}/steps/1_ingest/{set}.log",
    run:
        job("ingest", input, output, params, log)
