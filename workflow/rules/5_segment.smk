# Step 5: which sample belongs to which noted interval. All sets at once, because the notes are one file.
#
# A rule has to name its files before it knows its campaign, and campaigns differ in their sets. So the step
# writes the files of all sets into one folder, and a rule for each kind of file gives each its place.


rule segment:
    message:
        "Placing the samples in the noted intervals"
    input:
        code=code("segment"),
        schemas=schemas(
            "samples_corrected",
            "samples_screened",
            "certificates",
            "notes",
            "noted",
            "samples_segmented",
            "places",
            "findings",
            "untold",
        ),
        notes=lambda w: of(w).notes,
        limits=LIMITS,
        corrected=of_sets("3_correct_longwave"),
        screened=of_sets("4_screen"),
        certificates=of_sets("2_calibrate", "_certificates.csv"),
        outlines=lambda w: of(w).outlines,
        tracks=lambda w: of(w).tracks,
    output:
        folder=temp(directory("{results}/steps/5_segment/sets")),
        noted=steps("5_segment", "noted_intervals.csv"),
        findings=steps("5_segment", "all_findings.csv"),
        untold=steps("5_segment", "untold.csv"),
    params:
        digests=lambda w: held([of(w).notes, *of(w).outlines, *of(w).tracks]),
        settings=lambda w: as_json(step_settings.segment(of(w).S)),
    resources:
        mem_mb=memory(400, 3),
    group:
        "campaign"
    log:
        steps("5_segment", "segment.log"),
    run:
        job("segment", input, output, params, log, **made_in(output.folder, of(wildcards)))


rule samples_of_set:
    message:
        "Placing the samples of {wildcards.set}"
    input:
        folder="{results}/steps/5_segment/sets",
    output:
        segmented="{results}/steps/5_segment/{set}.csv",
    group:
        "campaign"
    log:
        "{results}/steps/5_segment/{set}.log",
    run:
        give_place(input.folder, output.segmented, log)


rule places_of_set:
    message:
        "Placing the positions of {wildcards.set}"
    input:
        folder="{results}/steps/5_segment/sets",
    output:
        places="{results}/steps/5_segment/{set}_places.csv",
    group:
        "campaign"
    log:
        "{results}/steps/5_segment/{set}_places.log",
    run:
        give_place(input.folder, output.places, log)
