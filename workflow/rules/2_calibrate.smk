# Step 2: raw signals to what each head sensed.


rule calibrate:
    message:
        "Applying the certificates to {wildcards.set}"
    input:
        code=code("calibrate"),
        schemas=schemas("samples_raw", "instruments", "certificates", "samples_calibrated", "findings"),
        samples=f"{RESULTS}/steps/1_ingest/{{set}}.csv",
        register=REGISTER,
    output:
        calibrated=f"{RESULTS}/steps/2_calibrate/{{set}}.csv",
        certificates=f"{RESULTS}/steps/2_calibrate/{{set}}_certificates.csv",
        findings=f"{RESULTS}/steps/2_calibrate/{{set}}_findings.csv",
    params:
        settings=lambda w: as_json({
            "set": w.set, "logger_id": S["sets"][w.set]["logger_id"], "longwave": S["sets"][w.set]["longwave"],
            "channels": CHANNELS[w.set], "certificate": S["methods"]["certificate"]}),
    log:
        f"{RESULTS}/steps/2_calibrate/{{set}}.log",
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --samples {input.samples:q} --register {input.register:q} --calibrated {output.calibrated:q} --certificates {output.certificates:q} --findings {output.findings:q} > {log:q} 2>&1"
