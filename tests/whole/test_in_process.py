"""The chain in one process, which the studies use, gives what the rules give."""

import dataclasses

import numpy as np
import pandas as pd

import chain
from headland.base import untold
from headland.files import config_tables, tables
from headland.files.schemas import table_schema
from simulate import specs
from simulate.campaign import simulate
from simulate.spec import Errors


def last_digit(name: str, table: pd.DataFrame, column: str) -> np.ndarray:
    """One unit of the last decimal with which the chain writes each number of a column: of a difference, of
    the values whose difference it is."""
    decimals = {field["name"]: field.get("decimals", 2) for field in table_schema(name)["fields"]}
    if name != "differences":
        return np.full(len(table), 1.02 * 10.0 ** -decimals[column])
    return 1.02 * np.where(table["quantity"] == "albedo", 1e-4, 1e-2)


def test_one_process_gives_the_tables_of_the_rules(demo_run):
    rules = demo_run
    assert rules.status == 0, rules.printed
    outcome = chain.run(chain.ROOT / "demo_inputs", draws=16384)
    checks = rules.table("checks")
    assert outcome.codes() == sorted(checks["code"].repeat(checks["count"]))
    left = tables.read_table(rules.folder / "steps" / "9_report" / "untold.csv", "untold")
    mine = untold.described(
        untold.frame(outcome.untold),
        [finding for _, finding in outcome.found],
        config_tables.read_config_table(chain.ROOT / "workflow/headland/checks/untold.csv").to_dict(
            "records"
        ),
    )
    assert len(left) and left.to_dict("records") == mine.to_dict("records")
    for name in ("segments", "surfaces", "fields", "differences"):
        mine, theirs = getattr(outcome.result, name), rules.table(name)
        for column in theirs.columns:
            if pd.api.types.is_float_dtype(theirs[column]):
                # tables round: half of the last decimal when written, and as much again in the tables between
                # the steps, which one process doesn't write
                off = np.abs(mine[column].to_numpy(float) - theirs[column].to_numpy(float))
                known = theirs[column].notna().to_numpy()
                assert (mine[column].notna().to_numpy() == known).all(), (name, column)
                assert (off[known] <= last_digit(name, theirs, column)[known]).all(), (
                    name,
                    column,
                    off.max(),
                )


def test_a_campaign_of_one_segment_has_values_and_says_what_it_can_t_know(tmp_path):
    spec = specs.minimal(errors=Errors())
    outcome = chain.run(simulate(spec.with_(visits=spec.visits[:1])).write(tmp_path / "campaign"))
    row = outcome.result.surfaces.iloc[0]
    assert (
        row["net_radiation"] == row["net_radiation_common_sky"]
        and row["sw_in_low"] < row["sw_in"] < row["sw_in_high"]
    )
    assert not outcome.codes("error", "warning") and outcome.result.differences.empty
    assert (pd.isna(row["net_radiation_low"]) and "interval-unknown" in outcome.codes("note")) or row[
        "net_radiation_high"
    ] - row["net_radiation_low"] > 10.0


def test_a_noisy_station_s_half_hours_have_no_interval_for_a_field_and_say_why(tmp_path):
    spec = specs.station(1800.0, "broken")
    outcome = chain.run(
        simulate(spec.with_(errors=dataclasses.replace(spec.errors, noise=3.0))).write(tmp_path / "campaign")
    )
    segments, surfaces = outcome.result.segments, outcome.result.surfaces
    assert (segments["net_radiation_low"] < segments["net_radiation"]).all() and (
        segments["net_radiation"] < segments["net_radiation_high"]
    ).all()
    assert (
        surfaces["net_radiation_low"].isna().all()
        and surfaces["sw_in_low"].notna().all()
        and "interval-unknown" in outcome.codes("note")
    )
