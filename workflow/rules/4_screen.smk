# Step 4: the sun, the sky, flags on single samples.


rule screen:
    message:
        "Screening the samples of {wildcards.set}"
    input:
        code=code("screen"),
        schemas=schemas("samples_raw", "samples_calibrated", "certificates", "samples_corrected", "samples_screened", "weather", "findings"),
        raw=f"{RESULTS}/steps/1_ingest/{{set}}.csv",
        calibrated=f"{RESULTS}/steps/2_calibrate/{{set}}.csv",
        certificates=f"{RESULTS}/steps/2_calibrate/{{set}}_certificates.csv",
        corrected=f"{RESULTS}/steps/3_correct_longwave/{{set}}.csv",
        limits=LIMITS,
        weather=WEATHER,
    output:
        screened=f"{RESULTS}/steps/4_screen/{{set}}.csv",
        findings=f"{RESULTS}/steps/4_screen/{{set}}_findings.csv",
    params:
        settings=lambda w: as_json({"set": w.set, "site": SITE, "weather": S["weather"], **CLOCKS[w.set],
                                     "channels": CHANNELS[w.set], "longwave": S["sets"][w.set]["longwave"]}),
    log:
        f"{RESULTS}/steps/4_screen/{{set}}.log",
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --raw {input.raw:q} --calibrated {input.calibrated:q} --certificates {input.certificates:q} --corrected {input.corrected:q} --limits {input.limits:q} --weather {input.weather:q} --screened {output.screened:q} --findings {output.findings:q} > {log:q} 2>&1"
