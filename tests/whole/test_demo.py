"""The demo campaign: against its truth, twice with equal bytes, rerun after edits, and accepted by an open standard's own reader."""

import hashlib
import json
import os
import shutil
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import frictionless
import numpy as np
import pandas as pd
import pytest

from headland.base import findings
from headland.course import answers
from headland.files import settings, tables
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import inputs, propagate

ROOT = Path(__file__).parents[2]
TRUTH = ROOT / "demo_inputs" / "truth"
MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
# the tables of results.md, written out here so that a column lost from a schema is noticed
INTERVALS = [f"{q}{end}" for q in MEASURED for end in ("", "_low", "_high")]
ESTIMATES = [
    f"{q}{end}"
    for q in (
        "net_radiation_common_sky",
        "ground_heat",
        "sensible_heat",
        "latent_heat",
        "evaporation",
        "bowen_ratio",
    )
    for end in ("", "_low", "_high")
]
COLUMNS = {
    "segments": [
        "segment",
        "set",
        "field",
        "surface",
        "activity",
        "transect",
        "pass",
        "start_utc",
        "end_utc",
        "samples",
        "samples_used",
        *INTERVALS,
        "body_temperature",
        "solar_elevation",
        "solar_azimuth",
        "sky",
        "notes_row",
    ],
    "surfaces": ["surface", "segments", "samples_used", *INTERVALS, *ESTIMATES],
    "fields": ["surface", "field", "segments", "samples_used", *INTERVALS, *ESTIMATES],
    "differences": [
        "surface_a",
        "surface_b",
        "quantity",
        "difference",
        "difference_low",
        "difference_high",
        "distinguishable",
    ],
    "uncertainty_budget": ["surface", "quantity", "source", "half_width_95", "share"],
    "checks": [
        "severity",
        "code",
        "step",
        "set",
        "file",
        "line",
        "start_utc",
        "end_utc",
        "channel",
        "what",
        "remedy",
    ],
}


@pytest.fixture(scope="module")
def demo(project, tmp_path_factory):
    outcome = project.run("demo_inputs", tmp_path_factory.mktemp("results") / "demo", whole=True)
    assert outcome.status == 0, outcome.printed[-3000:]
    return outcome


def digests(folder: Path) -> dict[str, str]:
    return {
        str(p.relative_to(folder)): hashlib.sha256(p.read_bytes()).hexdigest()
        for p in sorted(folder.rglob("*"))
        if p.is_file()
    }


@pytest.mark.parametrize("name", COLUMNS)
def test_every_column_is_there_in_order(demo, name):
    header = (demo.folder / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header.split(",") == COLUMNS[name]


def test_no_alarm(demo):
    assert demo.codes("error", "warning") == []


@pytest.mark.parametrize(
    "name, keys",
    [("segments", ["notes_row", "set"]), ("fields", ["surface", "field"]), ("surfaces", ["surface"])],
)
def test_intervals_hold_the_truth(demo, name, keys):
    """Of 95 % intervals at least 85 % in one campaign: errors are shared, so misses come together."""
    truth = pd.read_csv(TRUTH / f"{name}.csv")
    both = demo.table(name).merge(truth, on=keys, suffixes=("", "_true"), validate="one_to_one")
    assert len(both) == len(truth)
    inside = [
        both[f"{q}_whole" if f"{q}_whole" in both else f"{q}_true"].between(
            both[f"{q}_low"], both[f"{q}_high"]
        )
        for q in MEASURED
    ]
    assert np.mean(np.concatenate(inside)) >= 0.85


def test_values_are_near_the_truth(demo):
    """Not by wide intervals alone: albedo within 0.02, surface temperature within 1 K, net radiation within 25 W m-2 of the truth for every surface."""
    both = demo.table("surfaces").merge(
        pd.read_csv(TRUTH / "surfaces.csv"), on="surface", suffixes=("", "_true")
    )
    for quantity, limit in (("albedo", 0.02), ("surface_temperature", 1.0), ("net_radiation", 25.0)):
        assert (both[quantity] - both[f"{quantity}_true"]).abs().max() < limit, quantity


def test_values_that_practice_supplies(demo):
    """Common practice, no source: grass reflects about 120 of 850 W m-2; raw longwave near -100 upward and near 0 downward, the body near 23 degC."""
    grass = demo.table("segments").query("surface == 'short_grass' and sw_in > 700")
    assert (grass["sw_out"] / grass["sw_in"] * 850).between(100, 160).all() and len(grass)
    means = tables.read_table(demo.folder / "steps" / "6_summarise" / "segments.csv", "segment_means")
    green = means[
        means["surface"].isin(["short_grass", "tall_crop"])
    ]  # hot paving is far above the body's temperature
    assert means["lw_in_net"].between(-130, -70).all() and green["lw_out_net"].between(-25, 25).all()
    assert means["body_temperature"].between(20, 27).all()


def test_rows_in_are_rows_out(demo):
    """Nothing is dropped: each step has as many samples as the one before."""
    for name in ("curlew", "lapwing"):
        counts = {
            step: len((demo.folder / "steps" / step / f"{name}.csv").read_text(encoding="utf-8").splitlines())
            for step in ("1_ingest", "2_calibrate", "3_correct_longwave", "4_screen", "5_segment")
        }
        assert len(set(counts.values())) == 1, counts


def test_the_balance_closes(demo):
    rows = demo.table("surfaces").dropna(subset=["latent_heat"])
    assert len(rows)
    np.testing.assert_allclose(
        rows["net_radiation"], rows["ground_heat"] + rows["sensible_heat"] + rows["latent_heat"], atol=0.02
    )


def test_the_package_is_accepted_by_the_open_standards_own_reader(demo):
    report = frictionless.Package(str(demo.folder / "datapackage.json")).validate()
    assert report.valid, report.flatten(["type", "message"])
    described = {
        r["name"]: [f["name"] for f in r["schema"]["fields"]]
        for r in json.loads((demo.folder / "datapackage.json").read_text())["resources"]
    }
    assert described == {name.replace("_", "-"): columns for name, columns in COLUMNS.items()}


def test_two_runs_give_equal_bytes(project, demo, tmp_path):
    again = project.run("demo_inputs", tmp_path / "other place" / "demo", whole=True)
    assert again.status == 0, again.printed[-3000:]
    assert digests(again.folder) == digests(demo.folder)


def test_the_place_of_the_run_is_in_no_result(project, demo):
    for path in demo.folder.rglob("*"):
        if path.suffix in (".csv", ".html", ".json", ".svg", ".pdf"):
            assert str(project.folder).encode() not in path.read_bytes(), path.name


@pytest.fixture()
def edited(project, demo, tmp_path):
    """A copy of the demo that has been run once, to edit."""
    campaign = shutil.copytree(project.folder / "demo_inputs", tmp_path / "campaign")
    (tmp_path / "results").mkdir()
    (tmp_path / "results" / "report.html").touch()  # what differs is told of whole runs only
    first = project.run(campaign, tmp_path / "results")
    assert first.status == 0, first.printed[-2000:]
    return campaign, tmp_path / "results"


AFTER_NOTES = {
    "segment",
    "samples_of_set",
    "summarise",
    "balance",
    "propagate",
    "diagnose",
    "checks",
    "datapackage",
}


def test_reruns(project, edited):
    """What is edited reruns what depends on it and nothing else; what is only touched reruns nothing."""
    campaign, results = edited
    time.sleep(1.1)
    for path in campaign.rglob("*"):
        os.utime(path)
    assert project.run(campaign, results).jobs() == set()
    notes = campaign / "notes.csv"
    lines = notes.read_text(encoding="utf-8").splitlines(keepends=True)
    row = next(i for i, line in enumerate(lines) if ",walk," in line)
    lines[row] = lines[row].replace(",short_grass,", ",stubble,")
    notes.write_text("".join(lines), encoding="utf-8")
    (results / "report.html").touch()  # as a whole run leaves it
    rerun = project.run(campaign, results)
    assert rerun.status == 0 and rerun.jobs() == AFTER_NOTES
    told = pd.read_csv(results / "changes.csv", keep_default_na=False)
    named = lambda kind: set(
        told.loc[(told["kind"] == kind) & (told["quantity"] != "net_radiation_common_sky"), "item"]
    )
    assert told.loc[told["kind"] == "note", ["item", "quantity", "before", "after"]].values.tolist() == [
        [f"line {row + 1}", "surface", "short_grass", "stubble"]
    ]
    assert named("segment") == {"curlew-0820-0956"} and named("surface") == {"short_grass", "stubble"}
    assert set(told.loc[told["kind"] == "segment", "cause"]) == {f"notes, line {row + 1}"}
    settings = campaign / "campaign.yaml"
    settings.write_text(
        settings.read_text(encoding="utf-8").replace('shift: "00:00:00"', 'shift: "00:00:01"'),
        encoding="utf-8",
    )
    assert project.run(campaign, results).jobs() == AFTER_NOTES
    register = campaign / "instruments.csv"
    register.write_text(register.read_text(encoding="utf-8").replace("66.89", "66.90"), encoding="utf-8")
    assert project.run(campaign, results).jobs() == AFTER_NOTES | {"calibrate", "correct_longwave", "screen"}


@pytest.mark.parametrize(
    "module, rules",
    [
        ("chain/balance", {"balance", "propagate", "diagnose", "checks", "datapackage"}),
        ("physics/geometry", {"propagate", "diagnose", "checks", "datapackage"}),
    ],
)
def test_an_edited_formula_reruns_exactly_the_steps_that_reach_it(tmp_path, module, rules):
    from .conftest import Project

    own = Project(tmp_path / "project")
    results = tmp_path / "results"
    assert own.run("demo_inputs", results).status == 0
    path = own.folder / "workflow" / "headland" / f"{module}.py"
    path.write_text(path.read_text(encoding="utf-8") + "\n# edited\n", encoding="utf-8")
    assert own.run("demo_inputs", results).jobs() == rules


# Students' answers ---------------------------------------------------------------------------------------------------


def by_hand(folder: Path) -> pd.DataFrame:
    """Wrong answers for every surface, made as a student would, from the samples alone, in arithmetic written out here: code, surface, quantity, value."""
    sigma, rows, frames = 5.670374e-8, [], []
    segments = (
        pd.read_csv(folder / "segments.csv").query("activity in ('walk', 'stand')").set_index("segment")
    )
    for name in ("curlew", "lapwing"):
        frame = pd.read_csv(
            folder / "steps/5_segment" / f"{name}.csv",
            keep_default_na=False,
            na_values={c: [""] for c in ("sw_in", "sw_out")},
        )
        frame = frame.join(
            pd.read_csv(folder / "steps/2_calibrate" / f"{name}.csv")[["lw_in_net", "lw_out_net"]]
        )
        frames.append(frame[frame["segment"].isin(segments.index)].assign(set=name))
    every = pd.concat(frames, ignore_index=True)
    every["surface"] = every["segment"].map(segments["surface"])
    every["emission"] = sigma * (every["body_temperature"] + 273.15) ** 4
    other = lambda surface: OF_CLASS["ground_heat_fraction_day"][
        "paving" if surface != "paving" else "short_grass"
    ]
    for surface, all_ in every.groupby("surface"):
        own = all_[~all_["flags"].str.contains("edge|missing|impossible|overlap|low-head")]
        curlew, mean = own["set"] == "curlew", own.mean(numeric_only=True)
        net = mean["sw_in"] - mean["sw_out"] + mean["lw_in"] - mean["lw_out"]
        new = 1000 / 14.99
        rows += [
            (code, surface, quantity, value)
            for code, quantity, value in (
                ("no-own-emission", "lw_in", mean["lw_in_net"]),
                ("no-own-emission", "lw_out", mean["lw_out_net"]),
                ("emission-twice", "lw_in", mean["lw_in_net"] + 2 * mean["emission"]),
                (
                    "emission-twice",
                    "surface_temperature",
                    grey(
                        mean["lw_out_net"] + 2 * mean["emission"],
                        mean["lw_in_net"] + 2 * mean["emission"],
                        surface,
                    ),
                ),
                (
                    "emission-in-one-term",
                    "net_radiation",
                    mean["sw_in"] - mean["sw_out"] + mean["lw_in_net"] - mean["lw_out"],
                ),
                (
                    "celsius-in-fourth-power",
                    "lw_out",
                    (own["lw_out_net"] + sigma * own["body_temperature"] ** 4).mean(),
                ),
                ("emissivity-one", "surface_temperature", (mean["lw_out"] / sigma) ** 0.25 - 273.15),
                ("mean-of-ratios", "albedo", (own["sw_out"] / own["sw_in"]).mean()),
                (
                    "factor-of-other-head",
                    "sw_out",
                    np.where(
                        curlew, own["sw_out"] / 65.66 * 66.89, own["sw_out"] / new * 1000 / 14.71
                    ).mean(),
                ),
                (
                    "factor-outdated",
                    "sw_out",
                    np.where(curlew, own["sw_out"], own["sw_out"] / new * 1000 / 15.17).mean(),
                ),
                (
                    "factor-inverted",
                    "sw_in",
                    np.where(curlew, own["sw_in"] / 66.89 * 1000 / 66.89, own["sw_in"]).mean(),
                ),
                ("wrong-sign", "net_radiation", -net),
                ("wrong-sign", "ground_heat", -OF_CLASS["ground_heat_fraction_day"][surface] * net),
                ("net-of-three-terms", "net_radiation", net - mean["lw_in"]),
                ("net-of-three-terms", "net_radiation", net + mean["lw_out"]),
                ("edges-included", "sw_out", all_["sw_out"].mean()),
                ("ground-heat-of-another-class", "ground_heat", other(surface) * net),
                # two at once
                (
                    "emission-twice+emissivity-one",
                    "surface_temperature",
                    ((mean["lw_out_net"] + 2 * mean["emission"]) / sigma) ** 0.25 - 273.15,
                ),
                (
                    "emission-in-one-term+net-of-three-terms",
                    "net_radiation",
                    mean["sw_in"] + mean["lw_in_net"] - mean["lw_out"],
                ),
            )
            if "+" not in code or TWO_SLIPS.get(surface) == quantity
        ]
    return pd.DataFrame(rows, columns=["code", "surface", "quantity", "value"])


TWO_SLIPS = {"short_grass": "surface_temperature", "paving": "net_radiation"}
"""Trying all pairs of slips takes seconds for each surface and quantity."""
CLASSES = pd.read_csv(Path(__file__).parents[2] / "config" / "surfaces.csv")
OF_CLASS = {
    name: CLASSES[CLASSES["property"] == name].set_index("surface")["value"].astype(float)
    for name in ("ground_heat_fraction_day", "emissivity")
}


def grey(up: float, down: float, surface: str) -> float:
    """Surface temperature in degC."""
    emissivity = OF_CLASS["emissivity"][surface]
    return ((up - (1 - emissivity) * down) / (emissivity * 5.670374e-8)) ** 0.25 - 273.15


def of_segments_by_hand(folder: Path) -> pd.DataFrame:
    """Of lapwing's segments over paving, the reflected shortwave with the logger's old factor; of curlew's, the incoming shortwave where the logger's clock (UTC+1, 6 s ahead) was taken for UTC: guards counted in seconds, where a record without a gap lies there."""
    samples = pd.read_csv(folder / "steps/3_correct_longwave/curlew.csv", parse_dates=["time_utc"])
    seconds = samples["time_utc"].map(lambda t: t.timestamp()) + 3600 - 0.5 - 6
    yard = pd.read_csv(folder / "segments.csv").query("set == 'lapwing' and surface == 'paving'")
    rows = [
        ("factor-outdated", name, "sw_out", value * 14.99 / 15.17)
        for name, value in zip(yard["segment"], yard["sw_out"])
    ]
    for row in (
        pd.read_csv(folder / "segments.csv", parse_dates=["start_utc", "end_utc"])
        .query("set == 'curlew' and activity == 'walk'")
        .to_dict("records")
    ):
        start, end = row["start_utc"].timestamp(), row["end_utc"].timestamp()
        guard = 3 * 1.5 / 0.85
        inside = samples[(seconds >= start + guard + 12) & (seconds < end - guard)]
        if len(inside) > 0.97 * (end - start - 2 * guard - 12):
            rows.append(("local-time-as-utc", row["segment"], "sw_in", inside["sw_in"].mean()))
    return pd.DataFrame(rows, columns=["code", "segment", "quantity", "value"])


def test_every_wrong_answer_made_by_hand_is_named(project, demo, tmp_path):
    """For every surface; where a slip gives the right number within the tolerance the answer is right, and where two give one number both are named."""
    made = pd.concat([by_hand(demo.folder), of_segments_by_hand(demo.folder)], ignore_index=True)
    right = (
        demo.table("surfaces")
        .melt(
            "surface",
            ["net_radiation", "albedo", "surface_temperature", "evaporation", "ground_heat"],
            "quantity",
        )
        .assign(code="right")
        .dropna()
    )
    made = pd.concat([made, right], ignore_index=True)
    turn = np.arange(len(made))
    written = {
        "albedo": [("%", 100.0, 0.0), ("", 1.0, 0.0)],
        "surface_temperature": [("K", 1.0, 273.15), ("°F", 1.8, 32.0), ("°C", 1.0, 0.0)],
        "evaporation": [("mm/h", 1.0, 0.0), ("mm d-1", 24.0, 0.0)],
        "": [("W/m²", 1.0, 0.0), ("kW m-2", 1e-3, 0.0), ("MJ m⁻² h⁻¹", 0.0036, 0.0)],
    }
    kinds = [written.get(q, written[""]) for q in made["quantity"]]
    made["unit"], factor, offset = zip(*(kind[n % len(kind)] for kind, n in zip(kinds, turn)))
    made["value"] = [f"{v * a + b:.6f}" for v, a, b in zip(made["value"], factor, offset)]
    made[["segment", "surface", "quantity", "value", "unit"]].to_csv(tmp_path / "answers.csv", index=False)
    run = subprocess.run(
        [
            sys.executable,
            "scripts/verbs/answers.py",
            "--campaign",
            "demo_inputs",
            "--results",
            demo.folder,
            "--answers",
            tmp_path / "answers.csv",
            "--out",
            tmp_path / "out",
        ],
        cwd=project.folder,
        text=True,
        capture_output=True,
    )
    assert run.returncode == 0, run.stderr
    got = pd.read_csv(tmp_path / "out" / "answers.csv", keep_default_na=False)
    assert len(got) == len(made) and set(made["code"]) >= {"local-time-as-utc", "edges-included"}
    named = [
        code == verdict or (verdict == "right" and code != "right") or code in [mistake, *also.split()]
        for code, verdict, mistake, also in zip(
            made["code"], got["verdict"], got["mistake"], got["also_possible"]
        )
    ]
    assert all(named), pd.concat([made, got[["verdict", "mistake", "also_possible", "reference"]]], axis=1)[
        ~np.array(named)
    ].to_string()
    assert (got.loc[made["code"] == "right", "verdict"] == "right").all() and set(
        made.loc[made["code"] == "right", "unit"]
    ) == {u for kind in written.values() for u, *_ in kind}
    slips, two = made["code"] != "right", made["code"].str.contains("+", regex=False)
    assert got.loc[two, "mistake"].tolist() == made.loc[two, "code"].tolist()
    slips &= ~two
    assert (got.loc[slips, "verdict"] == "mistake").mean() > 0.7 and set(made["code"]) - {"right"} - set(
        got["mistake"]
    ) <= {"mean-of-ratios"}


def survey_of_demo(project, demo):
    sys.path.insert(0, str(ROOT / "scripts"))
    from headland.course.survey import survey_of

    sys.path.pop(0)
    chosen = settings.load(ROOT / "demo_inputs", ROOT / "config")
    return survey_of(
        project.folder / "demo_inputs",
        demo.folder,
        chosen,
        surface_classes(ROOT / "config/surfaces.csv", {}),
    )


def test_answers_are_held_against_sets_on_one_scale(project, demo):
    """With `methods.set_scale` the right numbers are step 8's, and one that lacks the scale is named."""
    survey = replace(survey_of_demo(project, demo), set_scale="mean")
    steps, surfaces = demo.folder / "steps", survey.surfaces
    means = {
        kind: tables.read_table(steps / "6_summarise" / f"{kind}.csv", "group_means")
        for kind in ("fields", "surfaces")
    }
    balances = {
        kind: tables.read_table(steps / "7_balance" / f"{kind}.csv", "group_balance") for kind in means
    }
    segments = tables.read_table(steps / "6_summarise" / "segments.csv", "segment_means")
    carrying = settings.load(ROOT / "demo_inputs", ROOT / "config")["carrying"]
    chain = propagate.propagate(
        inputs.Inputs(
            inputs.prepare(segments, carrying, np.full(len(segments), 20.0), surfaces),
            means,
            balances,
            pd.concat(survey.certificates.values(), ignore_index=True),
            surfaces,
            uncertainty_terms(ROOT / "config/uncertainty.csv"),
            carrying,
        ),
        1,
        16,
        "mean",
    ).surfaces.set_index("surface")
    right, lacking = (
        answers.through(survey, slip, {})
        for slip in ({}, dict(answers.slips_of(survey))["set-scale-missing"])
    )
    for quantity in answers.OF_SURFACES:
        np.testing.assert_allclose(
            right.surfaces[quantity], chain[quantity], rtol=1e-4, atol=2e-3, err_msg=quantity
        )
    reported = demo.table("surfaces").set_index("surface")
    np.testing.assert_allclose(lacking.surfaces["net_radiation"], reported["net_radiation"], atol=0.01)
    assert (right.segments["net_radiation"] - lacking.segments["net_radiation"]).abs().min() > 1


def test_answers_to_what_the_chain_withholds(project, demo):
    """A frozen channel of one set: its segments have no value to be right about, the reason is found, and who used it nevertheless is named."""
    whole = survey_of_demo(project, demo)
    frozen = findings.Finding("channel-frozen", set="curlew", channel="lw_out")
    survey, made = replace(whole, found=[*whole.found, frozen]), {}
    right, used = (
        answers.through(survey, {}, made),
        answers.through(survey, dict(answers.slips_of(survey))["withheld-included"], made),
    )
    mine = right.segments["set"] == "curlew"
    assert (
        right.segments.loc[mine, ["lw_out", "net_radiation"]].isna().all(axis=None)
        and right.segments.loc[~mine, "net_radiation"].notna().all()
        and right.segments["albedo"].notna().any()
    )
    np.testing.assert_allclose(
        used.surfaces["net_radiation"],
        demo.table("surfaces").set_index("surface")["net_radiation"],
        atol=0.01,
    )
    why = lambda *of: answers.withholding(survey, right.segments, *of)
    segment = right.segments.index[mine][-1]
    assert (
        why("segments", segment, "net_radiation")
        == why("surfaces", "short_grass", "surface_temperature")
        == [frozen]
        and why("segments", segment, "albedo") == []
    )


# Exercises and a class's notes -----------------------------------------------------------------------------------------


def test_exercises_and_the_notes_of_a_class(project, demo, tmp_path):
    """The same notes give the same numbers; one label written otherwise is named, with its effect. The sheet of questions holds no answer."""
    lines = (project.folder / "demo_inputs" / "notes.csv").read_text(encoding="utf-8")
    for who, text in (
        ("anna", lines),
        ("bela", lines.replace("Dry tilth,bare_dry_soil", "Dry tilth,bare_wet_soil")),
    ):
        (tmp_path / f"{who}.csv").write_text(text, encoding="utf-8")
    common = ["--campaign", "demo_inputs", "--results", demo.folder, "--out", tmp_path / "out"]
    for words in (
        ["scripts/verbs/class_notes.py", *common, "--notes", tmp_path / "anna.csv", tmp_path / "bela.csv"],
        ["scripts/verbs/exercises.py", *common],
    ):
        run = subprocess.run([sys.executable, *words], cwd=project.folder, text=True, capture_output=True)
        assert run.returncode == 0, run.stderr
    effects = pd.read_csv(tmp_path / "out" / "surfaces.csv")
    assert (effects.loc[effects["who"] == "anna", "difference"].abs() < 0.005).all()
    assert (
        effects.loc[(effects["who"] == "bela") & (effects["surface"] == "bare_wet_soil"), "difference"].iloc[
            0
        ]
        < -50
    )
    intervals = pd.read_csv(tmp_path / "out" / "intervals.csv", keep_default_na=False)
    assert (
        set(intervals.loc[intervals["surface"] == "bare_dry_soil", "other_labels"]) == {"bela: bare_wet_soil"}
        and (intervals["noted_by"] == 2).all()
    )
    sheet, key = (
        (tmp_path / "out" / name).read_text(encoding="utf-8") for name in ("sheet.html", "key/key.html")
    )
    assert (
        sheet.count("<li>") == key.count("<li>") >= 7
        and "Answer" not in sheet
        and key.count("Answer") == key.count("<li>")
    )


# Archive -------------------------------------------------------------------------------------------------------------


def test_the_archive_is_intact_and_has_the_same_bytes_each_time(project, demo, tmp_path):
    """Packed from what the chain left, twice; accepted by the verifier, which needs no library, and by the readers of two of its standards."""
    import subprocess
    import sys
    import zipfile

    made = [path for path in sorted(demo.folder.rglob("*")) if path.is_file() and path.suffix != ".log"]
    files = [tmp_path / "one.zip", tmp_path / "two.zip"]
    for file in files:
        subprocess.run(
            [
                sys.executable,
                ROOT / "scripts/verbs/archive.py",
                "--campaign",
                project.folder / "demo_inputs",
                "--results",
                demo.folder,
                "--out",
                file,
                "--made",
                *made,
            ],
            check=True,
            capture_output=True,
        )
    assert files[0].read_bytes() == files[1].read_bytes()
    verified = subprocess.run(
        [sys.executable, ROOT / "scripts/verbs/verify.py", files[0]], capture_output=True, text=True
    )
    assert verified.returncode == 0 and "Intact and complete" in verified.stdout, verified.stdout
    with zipfile.ZipFile(files[0]) as archive:
        archive.extractall(tmp_path)
        names = set(archive.namelist())
    assert not any("truth" in name and "/inputs/" in name for name in names)
    report = frictionless.Package(str(tmp_path / "demo-inputs/data/datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "type", "message"])[:5]
