"""Step 5, all sets at once, because the notes are one file: which sample belongs to which noted interval, and whether it counts."""

import package_path  # noqa: F401
from headland import diagnose, ingest, notes, place, screen, segment, step, tables, untold
from headland.findings import Finding


def main() -> None:
    args = step.arguments(one=("notes", "limits", "noted", "findings", "untold"), many=("corrected", "screened", "certificates", "segmented", "outlines", "tracks", "places"))
    settings = args.settings
    sets = list(settings["sets"])
    samples, middles, unknown = {}, {}, []
    for name, corrected, screened in zip(sets, args.corrected, args.screened):
        one = tables.read_table(corrected, "samples_corrected")
        two = tables.read_table(screened, "samples_screened")
        samples[name] = one.assign(**{c: two[c] for c in ("solar_elevation", "solar_azimuth", "sw_clear", "flags")})
        middles[name] = ingest.middle_of_interval(one["time_utc"], settings["sets"][name]["stamp"], settings["sets"][name]["interval"])
    table, findings = tables.read_user_table(args.notes, "notes")
    noted, found = notes.intervals(table, args.notes.name, settings["timezone"], settings["shift"], segment.span(middles.values()), sets,
                                   settings["surfaces"], {name: entry["utc_offset"] for name, entry in settings["sets"].items()})
    findings += found
    segments, found = segment.list_segments(noted, settings["sensor_height"], settings["walking_speed"])
    findings += segment.in_file(found, args.notes.name)
    if not len(segments):
        findings.append(Finding("no-segment", file=args.notes.name))
    checks = noted[noted["activity"] == "clock_check"]
    moments = {name: segment.corrected_moments(middles[name], checks[checks["set"] == name]) for name in sets}
    findings += segment.in_file(diagnose.notes_against_runs(
        segments, checks, moments, {name: settings["sets"][name]["interval"] for name in sets}, notes.shift_of(settings["shift"]).total_seconds(),
        settings["walking_speed"] > 0, unknown.append), args.notes.name)
    excluding = screen.excluding(screen.limits_of(tables.read_config_table(args.limits)))
    shaded = diagnose.upward_shaded(samples, moments, {name: settings["sets"][name]["interval"] for name in sets}, unknown.append) if settings["walking_speed"] > 0 else {}
    ground, found = place.read(args.outlines, args.tracks, settings.get("tracks", {}), settings.get("positions", {}).get("field_name", ""))
    findings += found
    for name, certificate, path in zip(sets, args.certificates, args.segmented):
        own, entry = segments[segments["set"] == name], settings["sets"][name]
        response = segment.response_time(tables.read_table(certificate, "certificates"))
        placed, found = segment.assign(middles[name], checks[checks["set"] == name], own,
                                       entry["interval"], response, settings["walking_speed"] > 0)
        if ground:
            located = ground.located(name, moments[name])
            placed, more = place.placed(placed, moments[name], located, own, list(ground.outlines), settings["positions"]["uncertainty"],
                                        entry["interval"], response) if settings["walking_speed"] > 0 else (placed, [])
            found = found + more
            tables.write_table(args.places[sets.index(name)], located, "places")
        frame = samples[name].assign(middle_utc=placed["middle_utc"], segment=placed["segment"], position=placed["position"],
                                     flags=(samples[name]["flags"] + " " + placed["flags"]).str.strip())
        if name in shaded:
            frame["flags"] = screen.also_flagged(frame["flags"], "upward-shaded", shaded[name])
            findings += diagnose.shaded_findings(name, frame["segment"], shaded[name], moments[name])
        frame["flags"] = segment.without_meant_covers(own, frame)
        out = screen.has_any(frame["flags"], excluding)
        findings += segment.in_file(found + segment.covers(own, frame) + segment.counts(own, frame, out), args.notes.name)
        step.say(f"{name}: {len(frame)} samples, {(frame['segment'] != '').sum()} in a noted interval, {((frame['segment'] != '') & ~out).sum()} count")
        tables.write_table(path, frame, "samples_segmented")
        samples[name] = frame
    findings += diagnose.clocks_against_sun(samples, middles, moments, {name: settings["sets"][name]["interval"] for name in sets}, segments, excluding,
                                            settings["walking_speed"] > 0, settings["site"], unknown.append)
    tables.write_table(args.noted, segments, "noted")
    tables.write_findings(args.findings, findings)
    tables.write_table(args.untold, untold.frame(unknown), "untold")


if __name__ == "__main__":
    main()
