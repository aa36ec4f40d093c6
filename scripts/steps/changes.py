"""After a run: what differs from the run before, in changes.csv and changes.html.

A run that did nothing new leaves the page as it was.
"""

from headland.files import step, tables, writing
from headland.record import changes, previous_run
from headland.report import page


def main() -> None:
    args = step.arguments(one=("campaign", "results"))
    results, target = args.results, args.results / "changes.html"
    now, before = previous_run.this_run(args.campaign, results, args.settings), previous_run.before(results)
    if before is not None and target.exists() and previous_run.is_same(before, now):
        previous_run.keep_time(results)
        return
    frame, said = changes.run(before, now)
    tables.write_table(results / "changes.csv", frame, "changes")
    values = {"title": args.settings["title"], "said": said, "rows": changes.shown(frame)}
    writing.write_text(target, page.page("changes", values))
    previous_run.remember(results, now)
    step.say(said)


if __name__ == "__main__":
    step.run(main)
