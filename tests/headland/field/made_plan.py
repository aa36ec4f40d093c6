"""A campaign folder with a plan, for tests of plans and of outlines."""

from pathlib import Path

ROOT = Path(__file__).parents[3]


def folder(path, rows, more='plan: {date: "2026-05-21"}\n'):
    path.mkdir()
    text = (ROOT / "demo_inputs" / "campaign.yaml").read_text(encoding="utf-8").partition("plan:")[0]
    (path / "campaign.yaml").write_text(text + more, encoding="utf-8")
    (path / "plan.csv").write_text("field,surface,length,headings,outline\n" + rows, encoding="utf-8")
    return path
