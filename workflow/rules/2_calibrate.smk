# Step 2: raw signals to what each head sensed.


rule calibrate:
    message:
        "Applying the certificates to {wildcards.set}"
    input:
        code=code("calibrate"),
        schemas=schemas("samples_raw", "instruments", "certificates", "samples_calibrated", "findings"),
        samples="{results}/steps/1_ingest/{set}.csv",
        register=lambda w: of(w).register,
    output:
        calibrated="{results}/steps/2_calibrate/{set}.csv",
        certificates="{results}/steps/2_calibrate/{set}_certificates.csv",
        findings="{results}/steps/2_calibrate/{set}_findings.csv",
    params:
        digests=lambda w: held([of(w).register]),
        settings=lambda w: as_json(step_settings.calibrate(of(w).S, w.set)),
    group:
        "campaign"
    log:
        "{results}/steps/2_calibrate/{set}.log",
    run:
        job("calibrate", input, output, params, log)
