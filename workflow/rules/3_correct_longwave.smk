# Step 3: what the longwave heads themselves emit.


rule correct_longwave:
    message:
        "Correcting the longwave of {wildcards.set}"
    input:
        code=code("correct_longwave"),
        schemas=schemas("samples_calibrated", "samples_corrected"),
        calibrated="{results}/steps/2_calibrate/{set}.csv",
    output:
        corrected="{results}/steps/3_correct_longwave/{set}.csv",
    log:
        "{results}/steps/3_correct_longwave/{set}.log",
    run:
        job("correct_longwave", input, output, params, log)
