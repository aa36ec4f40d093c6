# Step 5: which sample belongs to which noted interval. All sets at once: the notes are one file.


def alike():
    """Results folders whose campaigns leave the same files in this step, by what decides that: the names of the sets, and whether places are known."""
    groups = {}
    for results, campaign in CAMPAIGNS.items():
        groups.setdefault((*campaign.sets, campaign.placed), []).append(results)
    return list(groups.values())


# files of a rule's output have to be known before its wildcards are, so campaigns with other sets have a rule of their own
for number, group in enumerate(alike()):

    rule:
        name:
            "segment" if number == 0 else f"segment_{number + 1}"
        message:
            "Placing the samples in the noted intervals"
        wildcard_constraints:
            results="|".join(map(re.escape, group)),
        input:
            code=code("segment"),
            schemas=schemas("samples_corrected", "samples_screened", "certificates", "notes", "noted", "samples_segmented", "places", "findings", "untold"),
            notes=lambda w: of(w).notes,
            limits=LIMITS,
            corrected=of_sets("3_correct_longwave"),
            screened=of_sets("4_screen"),
            certificates=of_sets("2_calibrate", "_certificates.csv"),
            outlines=lambda w: of(w).outlines,
            tracks=lambda w: of(w).tracks,
        output:
            segmented=paths_of_sets("{results}", group[0], "5_segment"),
            noted=steps("5_segment", "noted_intervals.csv"),
            findings=steps("5_segment", "all_findings.csv"),
            untold=steps("5_segment", "untold.csv"),
            places=paths_of_sets("{results}", group[0], "5_segment", "_places.csv") if CAMPAIGNS[group[0]].placed else [],
        params:
            digests=lambda w: held([of(w).notes, *of(w).outlines, *of(w).tracks]),
            settings=lambda w: as_json({
                "sets": of(w).clocks, **of(w).S["notes"], "surfaces": of(w).S["surfaces"], "site": of(w).site,
                **({"positions": of(w).S["positions"], "tracks": of(w).S["track_files"]} if of(w).outlines or of(w).tracks else {}),
                **{key: of(w).S["carrying"][key] for key in ("sensor_height", "walking_speed")}}),
        group:
            "campaign"
        log:
            steps("5_segment", "segment.log"),
        run:
            job("segment", input, output, params, log)
