# Step 4: the sun, the sky, flags on single samples.


rule screen:
    message:
        "Screening the samples of {wildcards.set}"
    input:
        code=code("screen"),
        schemas=schemas(
            "samples_raw",
            "samples_calibrated",
            "certificates",
            "samples_corrected",
            "samples_screened",
            "weather",
            "findings",
            "untold",
        ),
        raw="{results}/steps/1_ingest/{set}.csv",
        calibrated="{results}/steps/2_calibrate/{set}.csv",
        certificates="{results}/steps/2_calibrate/{set}_certificates.csv",
        corrected="{results}/steps/3_correct_longwave/{set}.csv",
        limits=LIMITS,
        weather=lambda w: of(w).weather,
    output:
        screened="{results}/steps/4_screen/{set}.csv",
        findings="{results}/steps/4_screen/{set}_findings.csv",
        untold="{results}/steps/4_screen/{set}_untold.csv",
    params:
        digests=lambda w: held(of(w).weather),
        settings=lambda w: as_json(step_settings.screen(of(w).S, w.set)),
    resources:
        mem_mb=memory(400, 3),
    group:
        "campaign"
    log:
        "{results}/steps/4_screen/{set}.log",
    run:
        job("screen", input, output, params, log)
