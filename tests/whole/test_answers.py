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
from headland.course import finished, pairs, rerun, slips, withheld, written
from headland.files import settings, tables
from headland.files.own_numbers import course_rows
from headland.files.surfaces import surface_classes
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import inputs, propagate
from headland.uncertainty.course import course_sizes
from whole import answers_by_hand

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def demo(demo_run):
    assert demo_run.status == 0, demo_run.printed[-3000:]
    return demo_run


def test_every_wrong_answer_made_by_hand_is_named(project, demo, tmp_path):
    """For every surface; where a slip gives the right number within the tolerance the answer is right, and
    where two give one number both are named.
    """
    made = [
        # trying all pairs of slips takes ten seconds for each surface and quantity
        answers_by_hand.by_hand(demo.folder, {"short_grass": "surface_temperature"}),
        answers_by_hand.of_segments_by_hand(demo.folder),
        answers_by_hand.of_balance_by_hand(demo.folder),
    ]
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
    classes = answers_by_hand.CLASSES.query("property == 'ground_heat_fraction_day'")
    share = classes.set_index("surface")["value"]
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
    ] == [True]
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


def test_two_slips_in_net_radiation_are_what_comes_out_by_hand(project, demo):
    """Beside a few other slips: of the temperature all pairs are tried above."""
    survey, made = survey_of_demo(project, demo), {}
    two = ("emission-in-one-term", "net-of-three-terms")
    some = [one for one in slips.slips_of(survey) if one[0] in (*two, "emission-twice", "wrong-sign")]
    wrong = [(code, rerun.through(survey, slip, made)) for code, slip in some]
    right = rerun.through(survey, rerun.NO_SLIP, made).surfaces["net_radiation"]["paving"]
    found = pairs.two_slips(survey, some, wrong)("surfaces", "paving", "net_radiation", right)
    hand = answers_by_hand.by_hand(demo.folder, {"paving": "net_radiation"})
    (wanted,) = hand.loc[hand["code"] == "+".join(two), "value"]
    near = [code for code, value in found if abs(value - wanted) < written.tolerance("net_radiation", wanted)]
    assert near == ["+".join(two)] and len(found) > 3


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
            course_sizes(course_rows(ROOT / "config/course.csv")),
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
