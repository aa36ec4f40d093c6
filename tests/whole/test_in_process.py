"""The chain in one process, which the studies use, gives what the rules give."""

import chain
import pandas as pd
import pytest
from simulate import specs
from simulate.campaign import simulate


def test_one_process_gives_the_tables_of_the_rules(project, tmp_path):
    campaign = simulate(specs.minimal()).write(tmp_path / "campaign")
    rules = project.run(campaign, tmp_path / "results")
    assert rules.status == 0, rules.printed
    outcome = chain.run(campaign, draws=16384)
    assert outcome.codes() == rules.codes()
    for name in ("segments", "surfaces", "fields", "differences"):
        mine, theirs = getattr(outcome.result, name), rules.table(name)
        for column in theirs.columns:
            if pd.api.types.is_float_dtype(theirs[column]):
                # tables round: half of the last of two decimals, or of four for the albedo
                assert mine[column].to_numpy(float) == pytest.approx(theirs[column].to_numpy(float), abs=0.0051, nan_ok=True), (name, column)
