# Step 3: what the longwave heads themselves emit.


rule correct_longwave:
    message:
        "Correcting the longwave of {wildcards.set}"
    input:
        code=code("correct_longwave"),
        schemas=schemas("samples_calibrated", "samples_corrected"),
        calibrated=f"{RESULTS}/steps/2_calibrate/{{set}}.csv",
    output:
        corrected=f"{RESULTS}/steps/3_correct_longwave/{{set}}.csv",
    log:
        f"{RESULTS}/steps/3_correct_longwave/{{set}}.log",
    shell:
        "python {input.code[0]:q} --calibrated {input.calibrated:q} --corrected {output.corrected:q} > {log:q} 2>&1"
