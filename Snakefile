# Headland: from a walked net-radiation survey to a lab report.
#
# A contents page. The steps in the order of the chain; rule file, script and module have the same name:
#   1 ingest            raw logger files to samples as stored
#   2 calibrate         samples as stored to samples as sensed
#   3 correct_longwave  what the longwave heads themselves emit
#   4 screen            the sun, the sky, flags on single samples
#   5 segment           which sample belongs to which noted interval
#   6 summarise         means of segments, fields and surfaces
#   7 balance           the estimated energy balance
#   8 propagate         the interval of every number
#     diagnose          sources compared with each other, once all numbers are there
#   9 report            checks, figures, report

configfile: "config/config.yaml"


include: "workflow/rules/common.smk"
include: "workflow/rules/1_ingest.smk"
include: "workflow/rules/2_calibrate.smk"
include: "workflow/rules/3_correct_longwave.smk"
include: "workflow/rules/4_screen.smk"
include: "workflow/rules/5_segment.smk"
include: "workflow/rules/6_summarise.smk"
include: "workflow/rules/7_balance.smk"
include: "workflow/rules/8_propagate.smk"
include: "workflow/rules/8_diagnose.smk"
include: "workflow/rules/report_files.smk"
include: "workflow/rules/9_report.smk"
include: "workflow/rules/9_asked.smk"
include: "workflow/rules/after.smk"


if len(CAMPAIGNS) > 1:
    for step in workflow.rules:
        step.message = f"{{wildcards.results}}: {step.message}"

# config/profiles/benchmark sets this: time and memory of each step in a table beside its log. The directive
# `benchmark:` can't be switched off, so it is not in the rules.
if config.get("benchmark"):
    for step in workflow.rules:
        step.benchmark_modifier = workflow.modifier.path_modifier
        step.benchmark = str(step.log[0]).removesuffix(".log") + "_benchmark.tsv"


rule all:
    default_target: True
    message: "All done"
    input:
        [path.format(results=results) for results in CAMPAIGNS for path in REPORTS],
        [path for results in CAMPAIGNS for path in also(results)],
