"""A look without notes: each run of each set counts as a note."""

from types import SimpleNamespace

import numpy as np

from headland.field import look, look_page

S = {"site": {"timezone": "Europe/Zurich"}, "surfaces": ["paving"]}


def record(*starts, lasts=60):
    seconds = np.concatenate([1779357600.0 + start + np.arange(float(lasts)) for start in starts])
    return SimpleNamespace(seconds=seconds, interval=1.0)


def test_each_run_is_a_row():
    table = look.as_noted({"heron": record(0, 600), "plover": record(300)}, S)
    assert table["set"].tolist() == ["heron", "heron", "plover"]
    assert [text.split(",")[0] for text in table["field"]] == ["run 1", "run 2", "run 1"]
    assert len(set(table["field"])) == 3


def test_very_many_runs_are_one():
    starts = 120.0 * np.arange(look_page.MOST_RUNS)
    assert len(look.as_noted({"heron": record(*starts)}, S)) == look_page.MOST_RUNS
    starts = 120.0 * np.arange(look_page.MOST_RUNS + 1)
    assert len(look.as_noted({"heron": record(*starts)}, S)) == 1
