# Step 4: the sun, the sky, flags on single samples.


rule screen:
    message:
        "Screening the samples of {wildcards.set}"
    input:
        code=code("screen"),
        schemas=schemas("samples_corrected", "samples_screened", "weather", "findings"),
        corrected=f"{RESULTS}/steps/3_correct_longwave/{{set}}.csv",
        limits=LIMITS,
        weather=WEATHER,
    output:
        screened=f"{RESULTS}/steps/4_screen/{{set}}.csv",
        findings=f"{RESULTS}/steps/4_screen/{{set}}_findings.csv",
    params:
        settings=lambda w: as_json({"set": w.set, "site": SITE, "weather": S["weather"], **CLOCKS[w.set]}),
    log:
        f"{RESULTS}/steps/4_screen/{{set}}.log",
    shell:
        "python {input.code[0]:q} --settings {params.settings:q} --corrected {input.corrected:q} --limits {input.limits:q} --weather {input.weather:q} --screened {output.screened:q} --findings {output.findings:q} > {log:q} 2>&1"
