# After a run: what differs from the run before. It is no step of the chain, because it depends on that run;
# the report does not.

from types import SimpleNamespace


def run_inputs(results):
    """What went into this run beside the notes and the register, by name and content."""
    c = CAMPAIGNS[results]
    listed = {name: sha for name, size, sha in inputs_by_content(SimpleNamespace(results=results))}
    raw = {file for name in c.sets for file in c.S["sets"][name]["raw"]}
    ours = {name: sha for name, sha in listed.items() if name.startswith("config/")}
    return {
        "weather": {name: sha for name, sha in listed.items() if name == c.S["weather_file"]},
        "tables": ours,
        "files": {name: sha for name, sha in listed.items() if name in raw},
        "program": {"version": VERSION, **{path: digest(path) for step in CHAIN for path in code(step)}},
    }


def compare_with_the_run_before():
    for results, c in CAMPAIGNS.items():
        folder = ROOT / results
        page, memory = folder / "report.html", folder / "steps" / "previous_run" / "inputs.json"
        # a run that had nothing to do leaves no newer report
        if page.exists() and not (memory.exists() and memory.stat().st_mtime_ns > page.stat().st_mtime_ns):
            given = as_json(
                {"title": c.S["title"], "notes_file": c.S["notes_file"], "inputs": run_inputs(results)}
            )
            line = jobs.words({"campaign": c.folder, "results": results}, given)
            log = folder / "steps" / "9_report" / "changes.log"
            jobs.run(ROOT / "scripts" / "steps" / "changes.py", line, log)


onsuccess:
    compare_with_the_run_before()


# of many campaigns, some may have failed and the others be whole
onerror:
    compare_with_the_run_before()
