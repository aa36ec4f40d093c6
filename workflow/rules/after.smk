# After a run: what differs from the run before. No step of the chain, because it knows of that run; the report does not.


def run_inputs():
    """What went into this run beside the notes and the register, by name and content."""
    listed = {name: sha for name, size, sha in inputs_by_content()}
    own = {"campaign.yaml", "instruments.csv", S["notes_file"]}
    raw = {file for name in SETS for file in S["sets"][name]["raw"]}
    ours = {name: sha for name, sha in listed.items() if name.startswith("config/")}
    return {"weather": {name: sha for name, sha in listed.items() if name == S["weather_file"]}, "tables": ours,
            "files": {name: sha for name, sha in listed.items() if name in raw},
            "program": {"version": VERSION, **{path: tables.digest(ROOT / path) for step in STEPS for path in code(step)}}}


STEPS = ("ingest", "calibrate", "correct_longwave", "screen", "segment", "summarise", "balance", "propagate")


onsuccess:
    if os.path.exists(ROOT / RESULTS / "report.html") and os.path.exists(ROOT / RESULTS / "surfaces.csv"):
        import subprocess
        with open(ROOT / RESULTS / "steps" / "9_report" / "changes.log", "w", encoding="utf-8") as said:
            subprocess.run(["python", "scripts/changes.py", "--settings", as_json({"title": S["title"], "notes_file": S["notes_file"], "inputs": run_inputs()}),
                            "--campaign", str(CAMPAIGN), "--results", str(RESULTS)], cwd=ROOT, stderr=said, check=True)
