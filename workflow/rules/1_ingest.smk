# Step 1: raw logger files to one table of samples as stored.


rule ingest:
    message:
        "Reading the logger files of {wildcards.set}"
    input:
        code=code("ingest"),
        schemas=schemas("samples_raw", "findings"),
        # a file may be large: the digest below represents its content, and its date is ignored
        raw=lambda w: ancient(of(w).raw(w.set)),
    output:
        samples="{results}/steps/1_ingest/{set}.csv",
        findings="{results}/steps/1_ingest/{set}_findings.csv",
    params:
        settings=lambda w: as_json(step_settings.ingest(of(w).S, w.set)),
        digests=lambda w: held(of(w).raw(w.set)),
    resources:
        mem_mb=memory(300, 2),
    group:
        "campaign"
    log:
        "{results}/steps/1_ingest/{set}.log",
    run:
        job("ingest", input, output, params, log)
