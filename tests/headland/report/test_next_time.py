"""What limits the numbers most, and what to do next time: only what the budget supports."""

import dataclasses
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.report import next_time
from headland.report.differences import COMMON
from headland.uncertainty.differences import WHY

from .figures_made import differences, frame, groups
from .report_made import SETTINGS, TERMS, Page, certificates, given, html, with_tables

LABEL = dict(zip(TERMS["term"], TERMS["label"], strict=True))
PAIR = "short_grass - paving"
OF_OTHERS = {
    *("ground_heat_fraction", "latent_heat_fraction", "ground_heat_hour", "ground_heat_storage"),
    *("ground_heat_choudhury", "ground_heat_santanello", "ground_heat_hysteresis", "latent_heat_none"),
    *("latent_heat_de_bruin_holtslag", "plate", "soil_storage", "soil_warming", "one_spot", "station_soil"),
    *("levels_temperature", "levels_humidity", "station_fluxes", "station_closure", "bulk_transfer"),
    "bulk_temperature",
}
"""Terms of heat fluxes, which do not act on net radiation."""


def budget(values: dict[str, float], pair: dict[str, float]) -> pd.DataFrame:
    """Parts of the variance by term, of both surfaces and of their difference."""
    rows = [
        {"surface": name, "quantity": COMMON, "source": LABEL.get(term, term), "share": share}
        for name, shares in (("short_grass", values), ("paving", values), (PAIR, pair))
        for term, share in shares.items()
    ]
    return frame("uncertainty_budget", rows)


def campaign(values: dict, pair: dict, *, difference: float = 12.0, verdict: str = "false", **changes):
    """Two surfaces, each known to 27 W m-2, whose difference is known to 10 W m-2."""
    table = differences().assign(difference=difference, distinguishable=verdict)
    table = table.assign(difference_low=difference - 10.0, difference_high=difference + 10.0)
    tables = with_tables(differences=table, uncertainty_budget=budget(values, pair))
    return given(tables=tables, **changes)


def said(made) -> str:
    return next_time.next_words(made, next_time.found(made))


def test_each_term_of_net_radiation_is_in_one_cause():
    listed = [term for own in next_time.CAUSES.values() for term in own]
    assert len(listed) == len(set(listed))
    assert set(listed) == set(TERMS["term"]) - OF_OTHERS
    # terms with one label are one source of the budget
    of = {term: cause for cause, own in next_time.CAUSES.items() for term in own}
    for label in set(LABEL.values()):
        assert len({of[term] for term in listed if LABEL[term] == label}) <= 1, label
    for action in next_time.ACTIONS:
        assert set(action.left) <= set(next_time.CAUSES) and action.decides in {"", *WHY}
        assert all(0.0 <= factor < 1.0 for factor in action.left.values())


def test_the_largest_causes_are_those_that_make_up_more_than_half():
    values = {"sky_memory": 0.3, "left_out": 0.06, "certificate_sensor": 0.25, "ground": 0.39}
    made = campaign(values, {"course": 0.6, "own words": 0.4})
    assert next_time.limit_words(next_time.found(made)) == (
        "Net radiation ± 27 W m⁻²: mostly ground not walked (± 17) and changing sun and clouds (± 16). "
        "Differences ± 10: mostly the time between visits (± 8)"
    )
    made = campaign({"own words": 1.0}, {})
    assert next_time.limit_words(next_time.found(made)).startswith(
        "Net radiation ± 27 W m⁻²: mostly own words (± 27)"
    )


def test_an_action_is_named_where_it_narrows_by_a_tenth_and_not_below():
    """Half the uncertainty of a share s leaves sqrt(1 - 0.75 s): a tenth less from s = 0.2533 on."""
    for share, named in ((0.26, True), (0.25, False)):
        made = campaign({"certificate_sensor": share, "tilt": 1.0 - share}, {"tilt": 1.0})
        words = "Use certificates with half the uncertainty: net radiation ± 24 W m⁻²."
        assert said(made) == (words if named else "")


def test_an_action_that_decides_a_pair_comes_first_and_the_next_one_comes_on_top():
    shares = {"certificate_sensor": 0.9, "tilt": 0.1}
    decided = campaign(shares, {"sky_memory": 0.7, "tilt": 0.3}, difference=9.0)
    assert said(decided) == (
        "Wait for ten minutes of even sky before each walk: differences ± 6 W m⁻², could tell short grass "
        "from paving, if they differ as found. Use certificates with half the uncertainty as well: net "
        "radiation ± 15."
    )
    # so near to zero that no sky decides it; the value, which gains more, is then first
    alike = campaign(shares, {"sky_memory": 0.7, "tilt": 0.3}, difference=1.0)
    assert said(alike).startswith("Use certificates with half the uncertainty: net radiation ± 15 W m⁻².")
    assert "could tell" not in said(alike)
    # a pair that already differs is no gain
    known = campaign(shares, {"sky_memory": 0.7, "tilt": 0.3}, difference=9.0, verdict="true")
    assert "could tell" not in said(known)


def test_gains_on_top_are_those_that_are_left():
    """Sky and time at 0.37 and 0.71: rounds alone would narrow, after an even sky the time alone counts."""
    made = campaign({"tilt": 1.0}, {"sky_memory": 0.9, "course": 0.1}, difference=0.0)
    first = [step.action.words for step in next_time.alone(made, next_time.found(made))]
    assert first == [
        "Wait for ten minutes of even sky before each walk",
        "Go round all fields twice as often",
    ]
    steps = next_time.steps(made, next_time.found(made))
    assert [step.narrower["differences"] for step in steps] == [
        pytest.approx((10.0, 10.0 * np.sqrt(0.9 * 0.37**2 + 0.1))),
        pytest.approx(
            (
                10.0 * np.sqrt(0.9 * 0.37**2 + 0.1),
                10.0 * np.sqrt(0.9 * (0.37 * 0.71) ** 2 + 0.1 * 0.71**2),
            )
        ),
    ]


@pytest.mark.parametrize(
    ("key", "words"),
    [
        ("sky", "Wait for ten minutes of even sky before each walk: could compare short grass with paving."),
        ("ground", "Walk twice as many transects on each field: could compare short grass with paving."),
    ],
)
def test_a_pair_without_interval_has_the_remedy_of_its_reason(key, words):
    made = campaign({"tilt": 1.0}, {}, verdict="undecided")
    table = made.tables["differences"].assign(difference_low=np.nan, difference_high=np.nan, why=WHY[key])
    assert said(dataclasses.replace(made, tables={**made.tables, "differences": table})) == words


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"sets": ("heron",)}, ""),
        (
            {"sets": ("heron", "rail")},
            "Hold the sets side by side at start and end, and put them on one scale",
        ),
        (
            {"sets": ("heron", "rail"), "beside": True},
            "Put the sets on one scale (methods.set_scale; they were",
        ),
        ({"sets": ("heron", "rail"), "scale": "mean"}, ""),
        ({"sets": ("heron",), "grade": ""}, "Enter the class of each head in instruments.csv: "),
        ({"sets": ("heron",), "grade": None}, "Enter the class of each head in instruments.csv: "),
    ],
)
def test_what_does_not_fit_the_campaign_is_not_named(changes, words):
    settings = {**SETTINGS, "set_scale": changes.get("scale", "none")}
    settings["sets"] = {name: SETTINGS["sets"]["heron"] for name in changes["sets"]}
    beside = frame("intercomparison", [{"set_a": "heron", "set_b": "rail"}] if "beside" in changes else [])
    made = campaign(
        {"tilt": 1.0},
        {"drift_sw": 0.6, "tilt": 0.4} if "grade" not in changes else {"tilt": 1.0},
        settings=settings,
        intercomparison=beside,
        certificates=certificates().assign(instrument_class=changes.get("grade", "B")),
    )
    actions = [step.action.words for step in next_time.alone(made, next_time.found(made))]
    fitting = [one for one in actions if one not in ("Have the heads calibrated again before the day",)]
    assert len(fitting) == bool(words) and all(one.startswith(words[:40]) for one in fitting)


def test_without_intervals_nothing_is_said():
    made = given(tables=with_tables(surfaces=groups("surfaces", 0), differences=differences(0)))
    known = next_time.found(made)
    assert next_time.limit_words(known) == "" == next_time.next_words(made, known)
    shown = Page(html(tables=made.tables)).text
    assert "What limits" not in shown and "No single action narrows these intervals by a tenth." in shown


def test_the_first_page_and_the_page_on_uncertainty_say_it():
    made = campaign({"sky_memory": 1.0}, {"course": 1.0}, difference=9.0)
    shown = Page(html(tables=made.tables)).text
    first = shown[: shown.index("Table 1.")]
    for words in (
        "What limitsNet radiation ± 27 W m⁻²: mostly changing sun and clouds (± 27). Differences ± 10: most",
        "Next timeGo round all fields twice as often: differences ± 7 W m⁻², net radiation ± 19, could tell",
    ):
        assert words in first
    page_5 = shown[shown.index("What would narrow the intervals") :]
    rows = page_5[: page_5.index("Which of these")]
    plain = rows.replace("\u00a0", " ")
    assert "differencesnow ± 10 W m⁻²" in plain and "net radiationnow ± 27 W m⁻²" in plain
    assert "Go round all fields twice as often± 7± 19short grass and paving" in rows


@pytest.mark.parametrize(
    "classes, unknown", [(("A", ""), True), (("A", None), True), (("A", "B"), False), (("", ""), True)]
)
def test_one_shortwave_head_without_a_class_is_enough_to_ask_for_it(classes, unknown):
    rows = {"channel": ["sw_in", "sw_out", "lw_in"], "instrument_class": [*classes, ""]}
    assert next_time._class_unknown(SimpleNamespace(certificates=pd.DataFrame(rows))) == unknown
