"""Students' answers on the demo: wrong ones made by hand are named, right ones in odd writing are not
accused.
"""

import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

from headland.base import findings
from headland.course import finished, rerun, slips, withheld, written
from headland.files import settings, tables
from headland.files.config_tables import config_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import inputs, propagate
from headland.uncertainty.course import course_sizes

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def demo(project, tmp_path_factory):
    run = project.run("demo_inputs", tmp_path_factory.mktemp("results") / "demo", whole=True)
    assert run.status == 0, run.printed
    return run


def by_hand(folder: Path) -> pd.DataFrame:
    """Wrong answers for every surface, made as a student would, from the samples alone, in arithmetic written
    out here: code, surface, quantity, value.
    """
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
    weather = pd.read_csv(ROOT / "demo_inputs" / "weather.csv")
    every["air"] = np.interp(
        pd.to_datetime(every["time_utc"]).astype("int64"),
        pd.to_datetime(weather["time_utc"]).astype("int64"),
        weather["air_temperature"],
    )
    every["emission"] = sigma * (every["body_temperature"] + 273.15) ** 4
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
                (
                    "ground-heat-of-another-class",
                    "ground_heat",
                    OF_CLASS["ground_heat_fraction_day"]["short_grass" if surface == "paving" else "paving"]
                    * net,
                ),
                ("ratio-upside-down", "albedo", mean["sw_in"] / mean["sw_out"]),
                ("reflected-sky-forgotten", "surface_temperature", grey(mean["lw_out"], 0.0, surface)),
                ("one-band-only", "net_radiation", mean["sw_in"] - mean["sw_out"]),
                ("one-band-only", "net_radiation", mean["lw_in"] - mean["lw_out"]),
                ("air-for-body", "lw_out", mean["lw_out_net"] + (sigma * (own["air"] + 273.15) ** 4).mean()),
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


def of_balance_by_hand(folder: Path) -> pd.DataFrame:
    """Wrong answers about the energy balance, from the visits, in arithmetic written out here."""
    rows = []
    visits = pd.read_csv(folder / "steps" / "7_balance" / "visits.csv")
    for surface, own in visits.groupby("surface"):
        share = own["weight"] / own["weight"].sum()
        net, ground = own["net_radiation"], own["fraction"] * own["net_radiation"]
        saturated = 0.6108 * np.exp(17.27 * own["air_temperature"] / (own["air_temperature"] + 237.3))
        slope = 4098.0 * saturated / (own["air_temperature"] + 237.3) ** 2

        def latent(gamma, own=own, slope=slope, net=net, ground=ground):
            if own["split"].iloc[0] == "priestley_taylor":
                return own["coefficient"] * slope / (slope + gamma) * (net - ground)
            return own["coefficient"].fillna(0.0) * (net - ground)

        right = latent(0.665e-4 * own["pressure"])
        lambda_ = 2.501e6 - 2361.0 * own["air_temperature"]
        rows += [
            ("ground-heat-forgotten", surface, "sensible_heat", (share * (net - right)).sum()),
            ("bowen-upside-down", surface, "latent_heat", (share * (net - ground - right)).sum()),
            ("day-for-hour", surface, "evaporation", (share * 86400.0 * right / lambda_).sum()),
        ]
        if own["split"].iloc[0] == "priestley_taylor":
            wrong = latent(0.665e-3 * own["pressure"])
            rows.append(("kilopascal-for-hectopascal", surface, "latent_heat", (share * wrong).sum()))
    rows = [row for row in rows if row[3] or row[0] != "day-for-hour"]
    return pd.DataFrame(rows, columns=["code", "surface", "quantity", "value"])


def of_segments_by_hand(folder: Path) -> pd.DataFrame:
    """Of lapwing's segments over paving, the reflected shortwave with the logger's old factor; of curlew's,
    the incoming shortwave where the logger's clock (UTC+1, 6 s ahead) was taken for UTC: guards counted in
    seconds, where a record without a gap lies there.
    """
    samples = pd.read_csv(folder / "steps/3_correct_longwave/curlew.csv", parse_dates=["time_utc"])
    seconds = samples["time_utc"].map(lambda t: t.timestamp()) + 3600 - 0.5 - 6
    yard = pd.read_csv(folder / "segments.csv").query("set == 'lapwing' and surface == 'paving'")
    rows = [
        ("factor-outdated", name, "sw_out", value * 14.99 / 15.17)
        for name, value in zip(yard["segment"], yard["sw_out_by_hand"], strict=True)
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
    """For every surface; where a slip gives the right number within the tolerance the answer is right, and
    where two give one number both are named.
    """
    made = [by_hand(demo.folder), of_segments_by_hand(demo.folder), of_balance_by_hand(demo.folder)]
    made = pd.concat(made, ignore_index=True)
    asked = ["net_radiation", "albedo", "surface_temperature", "evaporation", "ground_heat"]
    surfaces = demo.table("surfaces")
    measured = {f"{name}_by_hand": name for name in asked if f"{name}_by_hand" in surfaces}
    right = (
        surfaces.melt("surface", [*asked, *measured], "quantity")
        .assign(code="right")
        .dropna()
        .replace({"quantity": measured})
    )
    share = CLASSES.query("property == 'ground_heat_fraction_day'").set_index("surface")["value"]
    # of the number by hand, as a student goes on from it
    ground = surfaces.assign(
        value=surfaces["surface"].map(share.astype(float)) * surfaces["net_radiation_by_hand"],
        quantity="ground_heat",
        code="right",
    )[["surface", "quantity", "value", "code"]]
    made = pd.concat([made, right, ground], ignore_index=True)
    turn = np.arange(len(made))
    written = {
        "albedo": [("%", 100.0, 0.0), ("", 1.0, 0.0)],
        "surface_temperature": [("K", 1.0, 273.15), ("°F", 1.8, 32.0), ("°C", 1.0, 0.0)],
        "evaporation": [("mm/h", 1.0, 0.0), ("mm d-1", 24.0, 0.0)],
        "": [("W/m²", 1.0, 0.0), ("kW m-2", 1e-3, 0.0), ("MJ m⁻² h⁻¹", 0.0036, 0.0)],
    }
    kinds = [written.get(q, written[""]) for q in made["quantity"]]
    chosen = [kind[n % len(kind)] for kind, n in zip(kinds, turn, strict=True)]
    made["unit"], factor, offset = zip(*chosen, strict=True)
    made["value"] = [f"{v * a + b:.6f}" for v, a, b in zip(made["value"], factor, offset, strict=True)]
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
        "+" in code
        or code == verdict
        or (verdict == "right" and code != "right")
        or code in [mistake, *also.split()]
        for code, verdict, mistake, also in zip(
            made["code"], got["verdict"], got["mistake"], got["also_possible"], strict=True
        )
    ]
    assert all(named), pd.concat([made, got[["verdict", "mistake", "also_possible", "reference"]]], axis=1)[
        ~np.array(named)
    ].to_string()
    assert (got.loc[made["code"] == "right", "verdict"] == "right").all() and set(
        made.loc[made["code"] == "right", "unit"]
    ) == {u for kind in written.values() for u, *_ in kind}
    slips, two = made["code"] != "right", made["code"].str.contains("+", regex=False)
    assert got.loc[two, "mistake"].eq("").all() and got.loc[two, "verdict"].eq("other").all()
    assert [
        code in possible.split()
        for code, possible in zip(made.loc[two, "code"], got.loc[two, "possible_pairs"], strict=True)
    ] == [True, True]
    slips &= ~two
    assert (got.loc[slips, "verdict"] == "mistake").mean() > 0.7 and set(made.loc[slips, "code"]) - set(
        got["mistake"]
    ) <= {"mean-of-ratios"}


def survey_of_demo(project, demo):
    config = ROOT / "config"
    return finished.survey_of(
        project.folder / "demo_inputs",
        demo.folder,
        settings.load(ROOT / "demo_inputs", config),
        surface_classes(config / "surfaces.csv", {}),
        config,
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
    balances["visits"] = tables.read_table(steps / "7_balance" / "visits.csv", "visit_balance")
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
            course_sizes(config_rows(ROOT / "config/course.csv")),
        ),
        1,
        16,
        "mean",
        one_sided="leave",
    ).surfaces.set_index("surface")
    lacks = dict(slips.slips_of(survey))["set-scale-missing"]
    right, lacking = (rerun.through(survey, slip, {}) for slip in (rerun.NO_SLIP, lacks))
    for quantity in written.OF_SURFACES:
        np.testing.assert_allclose(
            right.surfaces[quantity], chain[quantity], rtol=1e-4, atol=2e-3, err_msg=quantity
        )
    reported = demo.table("surfaces").set_index("surface")
    np.testing.assert_allclose(
        lacking.surfaces["net_radiation"], reported["net_radiation_by_hand"], atol=0.01
    )
    assert (right.segments["net_radiation"] - lacking.segments["net_radiation"]).abs().min() > 1


def test_answers_to_what_the_chain_withholds(project, demo):
    """A frozen channel of one set: its segments have no value to be right about, the reason is found, and who
    used it nevertheless is named.
    """
    whole = survey_of_demo(project, demo)
    frozen = findings.Finding("channel-frozen", set="curlew", channel="lw_out")
    survey, made = replace(whole, found=[*whole.found, frozen]), {}
    includes = dict(slips.slips_of(survey))["withheld-included"]
    right, used = (rerun.through(survey, slip, made) for slip in (rerun.NO_SLIP, includes))
    mine = right.segments["set"] == "curlew"
    assert (
        right.segments.loc[mine, ["lw_out", "net_radiation"]].isna().all(axis=None)
        and right.segments.loc[~mine, "net_radiation"].notna().all()
        and right.segments["albedo"].notna().any()
    )
    np.testing.assert_allclose(
        used.surfaces["net_radiation"],
        demo.table("surfaces").set_index("surface")["net_radiation_by_hand"],
        atol=0.01,
    )

    def why(*of):
        return withheld.withholding(survey, right.segments, *of)

    segment = right.segments.index[mine][-1]
    assert (
        why("segments", segment, "net_radiation")
        == why("surfaces", "short_grass", "surface_temperature")
        == [frozen]
        and why("segments", segment, "albedo") == []
    )


# Exercises and a class's notes ------------------------------------------------------------------------------


def test_exercises_and_the_notes_of_a_class(project, demo, tmp_path):
    """The same notes give the same numbers; one label written otherwise is named, with its effect.

    The sheet of questions holds no answer.
    """
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
