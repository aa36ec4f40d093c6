"""Each mistake of instruments, loggers and samples is named in a campaign in which it can be, and sound
campaigns are silent.

Rates over many campaigns: tests/study/detection.py.
"""

import numpy as np
import pandas as pd
import pytest

from headland.chain import calibrate
from headland.chain.crossed_factors import crossed
from headland.checks import dead_channels, longwave_states, series
from simulate import mistakes_files, specs
from simulate.campaign import simulate
from simulate.spec import Sky
from simulate.summarised import COEFFICIENTS
from study import instruments as study
from study import trial

NAMES = [row.title for row in study.ROWS]


LARGER = {"factors inverted: all four": (4, 2, 5, 7, 8, 21, 22)}
"""Seeds for what the smallest campaign that could show it leaves undecided."""


def smallest_first(row, kind):
    """Seeds in the order of their visits: the fewer, the sooner the chain is through."""
    return sorted(range(30), key=lambda seed: len(row.base(seed, trial.sky_of(seed, kind)).visits))


@pytest.mark.parametrize("row", study.ROWS, ids=NAMES)
def test_each_mistake_is_named(row):
    kind = "clear" if "clear" in row.skies else "in turn"
    for seed in LARGER.get(row.title) or smallest_first(row, kind):
        campaign, name = trial.sound_of(row, seed, kind)
        if row.can(campaign, name, seed):
            result = trial.tried(row, seed, kind)
            assert (result["verdict"], result["wrong"]) == ("named", [])
            return
    pytest.fail("no campaign could show it")


@pytest.mark.parametrize(
    "title, seed, kind",
    [
        ("set upside down", 3, "clear"),
        ("longwave exchanged", 3, "clear"),
        ("window wet", 4, "overcast"),
        ("factors inverted: both shortwave", 4, "overcast"),
    ],
)
def test_what_can_t_be_decided_is_said_to_be(title, seed, kind):
    row = study.ROWS[NAMES.index(title)]
    assert trial.tried(row, seed, kind) == {"verdict": "undecided", "can": False, "wrong": []}


SOUND = {
    "midnight sun": specs.polar_day(),
    "polar night": specs.polar_night(),
    "southern, overcast": specs.southern(sky=Sky("overcast")),
    "four sets": specs.many_sets(4),
    "night": specs.over_midnight(),
    "ten a second": specs.fast(True),
    "two thermometers": specs.inline_layout(),
    "nothing wrong at all, in the dark": specs.exact(specs.polar_night()),
    "a station": specs.station(interval=60.0),
}


@pytest.mark.parametrize("name", SOUND)
def test_sound_campaigns_are_silent(name):
    assert trial.alarms(trial.told(simulate(SOUND[name]), "segment")) == []


@pytest.mark.parametrize("seed", range(4))
def test_sound_campaigns_drawn_at_random_are_silent(seed):
    assert trial.alarms(trial.told(simulate(specs.sound(100 + seed)), "segment")) == []


def test_several_at_once_are_told_apart():
    campaign = simulate(study.volts(specs.sound(5, "clear")))
    name = campaign.spec.sets[0].name
    damaged = study.mistakes.sign_reversed(
        mistakes_files.file_truncated(study.mistakes.cover_left_on(campaign, name), name), name, "lw_in"
    )
    codes = set(trial.alarms(trial.told(damaged, "segment")))
    assert codes >= {"cover-left-on", "file-truncated", "sign-reversed"} and codes <= {
        "cover-left-on",
        "file-truncated",
        "sign-reversed",
        "segment-unused",
    }


# The tests on series, by cases worked out by hand ----------------------------------------------------


def test_long_runs():
    hit = np.array([1, 1, 0, 1, 1, 1, 1, 1, 1, 0], bool)
    assert series.long_runs(hit, 1.0, 6.0).tolist() == [False] * 3 + [True] * 6 + [False]
    assert not series.long_runs(hit, 1.0, 7.0).any() and not series.long_runs(hit, 60.0, 60.0, fewest=7).any()


def test_frozen_needs_another_channel_that_moves():
    moving, still = np.arange(200.0), np.full(200, 3.0)
    half = np.where(np.arange(200) < 50, moving, 3.0)
    hit, doubtful = dead_channels.frozen(half, [moving], 1.0, 120.0)
    assert hit.sum() == 150 and not doubtful.any()
    assert not np.any(dead_channels.frozen(half, [still], 1.0, 120.0))
    assert not np.any(dead_channels.frozen(half[:160], [moving[:160]], 1.0, 120.0))


@pytest.mark.parametrize(
    "x, state, sure",
    [(-100.0, 0, True), (320.0, 1, True), (740.0, 2, True), (215.0, 1, False), (185.0, 0, False),
     (241.0, 1, True), (238.0, 1, False), (178.0, 0, True), (181.0, 0, False)],
)  # fmt: skip
def test_longwave_state(x, state, sure):
    """Own emission 418.7 W m-2 (20 degC): the states' middles are 209.4 and 628.1; within 30 of them a
    state is not sure."""
    assert longwave_states.longwave_state(np.full(20, x), np.full(20, 418.7)) == (state, sure)


@pytest.mark.parametrize(
    "logged, declared, air, verdict, units",
    [
        (22.0, "degC", 18.0, "sound", []),
        (295.0, "degC", 18.0, "wrong", ["K"]),
        (71.6, "degC", 18.0, "wrong", ["degF"]),
        (22.0, "K", 18.0, "wrong", ["degC"]),
        (108.6, "degC", 18.0, "wrong", ["ohm"]),
        (71.6, "K", 18.0, "wrong", ["degF"]),
        (3.2, "degC", -16.0, "wrong", ["degF"]),
        (38.0, "degC", 18.0, "sound", []),
        (295.0, "degC", np.nan, "wrong", ["K"]),
        (22.0, "degC", np.nan, "sound", []),
        (108.6, "degC", np.nan, "undecided", ["degF", "ohm"]),
    ],
)
def test_unit_of_a_body_temperature(logged, declared, air, verdict, units):
    """22 degC is 295.15 K, 71.6 degF and 108.6 ohm (IEC 60751)."""
    assert longwave_states.body_unit(logged, declared, air) == (verdict, units)


def test_crossed_factors():
    assert crossed((66.0, 67.5), (67.5, 66.0)) and not crossed((66.0, 67.5), (66.2, 67.4))
    assert not crossed((66.0, 67.5), (np.nan, 66.0)) and not crossed((66.0, 66.1), (66.1, 66.0))


def test_factors_exchanged_by_serial_number():
    """The newest certificates of two heads have each other's factors; the ones before tell."""
    rows = [
        ("sw_in", "S-1", 66.0, "2022-03-01"),
        ("sw_out", "S-2", 67.6, "2022-03-01"),
        ("sw_in", "S-1", 67.5, "2025-03-01"),
        ("sw_out", "S-2", 66.1, "2025-03-01"),
        ("lw_in", "L-1", 90.0, "2025-03-01"),
        ("lw_out", "L-2", 91.0, "2025-03-01"),
    ]
    register = pd.DataFrame(
        [
            {
                "set": "heron",
                "logger_id": "L-07",
                "channel": c,
                "sensor_id": s,
                "factor": f,
                "factor_unit": "W m-2 per mV",
                "programmed_factor": np.nan,
                "expanded_uncertainty_percent": np.nan,
                "certificate_date": d,
                "response_time_95": np.nan,
                "instrument_class": "",
                "reference": "",
                **dict.fromkeys((*COEFFICIENTS, "coverage_factor"), np.nan),
                "line": n,
            }
            for n, (c, s, f, d) in enumerate(rows, 2)
        ]
    )
    channels = {c: {"unit": "mV"} for c in calibrate.RADIATION}
    _, found = calibrate.choose_certificates(
        register, "heron", "L-07", channels, day=pd.Timestamp("2025-08-20").date(), method="latest"
    )
    assert [(f.code, f.variant, f.channel) for f in found] == [
        ("factors-exchanged", "serial", "sw_in sw_out")
    ]


def test_a_set_without_a_sample_is_no_trouble():
    campaign = simulate(study.volts(specs.sound(5, "clear")))
    assert "file-empty" in trial.alarms(
        trial.told(mistakes_files.empty_file(campaign, campaign.spec.sets[0].name), "segment")
    )
