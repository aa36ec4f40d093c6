"""Whole days: bytes, truth, files and choices."""

import time
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import yaml

import world
from world.carrying import Obstacle
from world.choices import ORDERS, read_choices
from world.day import Day, people_walk
from world.notes import time_shift
from world.reader import read_file, to_fluxes
from world.scene import build_scene


def all_bytes(folder):
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def fluxes(day: Day, name: str) -> pd.DataFrame:
    settings = day.tables.campaign["sets"][name]
    register = day.tables.register[day.tables.register["set"] == name]
    text, _ = day.tables.files[f"logger/{name}_01.csv"]
    return to_fluxes(read_file(text, settings["layout"]), settings["layout"], register, settings["longwave"])


def test_same_seed_gives_the_same_bytes_and_another_seed_others(tmp_path):
    one = all_bytes(world.draw(3, fields=3, order="once").write(tmp_path / "one"))
    two = all_bytes(world.draw(3, fields=3, order="once").write(tmp_path / "two"))
    assert one == two
    walked = [walks(seed, fields=3, order="once").legs for seed in (3, 3, 4)]
    assert walked[0] == walked[1] != walked[2]


def test_a_choice_of_heads_leaves_the_sky_as_it_was():
    one = world.draw(6, fields=2, heads="A")
    two = world.draw(6, fields=2, heads="C")
    assert np.array_equal(one.scene.incoming[0].level, two.scene.incoming[0].level)
    assert one.truth.course.equals(two.truth.course)


@pytest.mark.parametrize("seed", [1, 2])
def test_identical_ground_has_an_identical_course(seed):
    day = world.draw(seed, identical=True, order="rounds", fields=2)
    a, b = (field.name for field in day.scene.fields)
    for quantity in world.QUANTITIES:
        assert day.at_common_moment(a, b, quantity) == 0.0
    assert a != b


def test_ground_differs_by_the_amount_asked_for():
    day = world.draw(5, difference=-30.0, fields=["short_grass", "tall_crop"], sky="clear", season="summer")
    a, b = (field.name for field in day.scene.fields)
    assert day.at_common_moment(b, a, "net_radiation") == pytest.approx(-30.0, abs=0.5)
    day = world.draw(5, difference={"albedo": 0.04}, fields=2, sky="overcast")
    a, b = (field.name for field in day.scene.fields)
    assert day.at_common_moment(b, a, "albedo") == pytest.approx(0.04, abs=0.008)


@pytest.fixture(scope="module")
def of_four_fields():
    return world.draw(9, fields=4, order="once", night=False)


def test_the_sky_as_it_was_gives_the_net_radiation_that_was(of_four_fields):
    day = of_four_fields
    name = day.scene.fields[0].name
    span = (day.survey.start, day.survey.end)
    means = [day.value(name, quantity, *span) for quantity in ("sw_in", "lw_in", "net_radiation")]
    assert day.under_sky(name, means[0], means[1]) == pytest.approx(means[2], abs=0.05)
    assert day.under_sky(name, means[0] + 100.0, means[1]) > means[2] + 30.0


@pytest.mark.parametrize(
    "seed, logger, order, rounding",
    [
        (0, "comma-clock", "a_then_b", "second"),
        (1, "semicolon-day", "once", "minute"),
        (0, "inline", "two_at_a_time", "five"),
        (1, "inline", "a_b_a", "minute"),
    ],
)
def test_files_are_read_by_their_layouts_and_notes_run_forward(tmp_path, seed, logger, order, rounding):
    day = world.draw(seed, logger=logger, fields=2, order=order, rounding=rounding)
    folder = day.write(tmp_path)
    campaign = yaml.safe_load((folder / "campaign.yaml").read_text(encoding="utf-8"))
    register = pd.read_csv(folder / "instruments.csv", dtype=str, keep_default_na=False)
    for name, settings in campaign["sets"].items():
        layout = settings["layout"]
        encoding = layout["encoding"] if isinstance(layout, dict) else "utf-8"
        text = (folder / "logger" / f"{name}_01.csv").read_text(encoding=encoding)
        records = read_file(text, layout)
        assert len(records) == len(day.records[name])
        assert (
            records["clock"].to_numpy() == day.records[name]["clock"].to_numpy().astype("datetime64[s]")
        ).all()
        out = to_fluxes(records, layout, register[register["set"] == name], settings["longwave"])
        assert out["lw_out"].between(150, 750).all()
        assert isinstance(settings["utc_offset"], str)
        rows = day.notes[(day.notes["set"] == name) & (day.notes["activity"] != "clock_check")]
        assert len(rows) and (rows["end_s"] > rows["start_s"]).all()
        assert (rows["start_s"].to_numpy()[1:] >= rows["end_s"].to_numpy()[:-1]).all()


def perfect(day: Day) -> None:
    """Take all errors out of a day's sets, so that only sampling is left."""
    for name, kit in day.kits.items():
        for channel, head in kit.heads.items():
            kit.heads[channel] = replace(
                head,
                certified=head.sensitivity,
                gain=1.0,
                linearity=(0.0, 0.0),
                temperature=(0.0, 0.0),
                zero_a=0.0,
                zero_b=0.0,
                window=0.0,
                case=0.0,
                directional=None,
                response=(1e-3, 1e-3, 1.0),
                logger_zero=0.0,
            )
        kit.body = replace(kit.body, thermometers=((0.0, 0.0), (0.0, 0.0)), lw_case=(0.0, 0.0))
        kit.carrier = replace(kit.carrier, lean=(0.0, 0.0), lean_spread=0.0, swing=0.0, dims=0.0)
        kit.logger = replace(
            kit.logger,
            noise=0.0,
            missed=0.0,
            offset=0.0,
            drift=0.0,
            averages=True,
            stamp="end",
            programmed={key: head.sensitivity for key, head in kit.heads.items()}
            if kit.logger.programmed
            else {},
        )
        rows = day.tables.register["set"] == name
        for channel, head in kit.heads.items():
            one = rows & (day.tables.register["channel"] == channel)
            by_millivolt = day.tables.register.loc[one, "factor_unit"].iloc[0] == "W m-2 per mV"
            text = repr(1000.0 / head.sensitivity if by_millivolt else head.sensitivity)
            day.tables.register.loc[one, "factor"] = text
            day.tables.register.loc[
                one & (day.tables.register["programmed_factor"] != ""), "programmed_factor"
            ] = text
    day.survey.habits = replace(day.survey.habits, watch=0.0)
    day.refresh(list(day.kits))


@pytest.mark.parametrize(
    ("logger", "seed"), [("comma-clock", 1), ("semicolon-day", 2), ("inline", 3), ("inline", 5)]
)
def test_perfect_sets_read_the_truth(monkeypatch, logger, seed):
    monkeypatch.setattr(Obstacle, "__init__", no_obstacle)
    day = world.draw(seed, logger=logger, sets=1, fields=3, order="once", continuous=True)
    perfect(day)
    name = day.survey.sets[0]
    read = fluxes(day, name)
    true = day.records[name]["true"].to_numpy()
    shown = true + time_shift(day.survey, day.kits[name], true)
    for row in day.truth.segments.itertuples():
        start = (row.start_utc - day.scene.site.midnight).total_seconds()
        end = (row.end_utc - day.scene.site.midnight).total_seconds()
        mean = read[(shown >= start) & (shown < end)].mean(numeric_only=True)
        for quantity, tolerance in (("sw_in", 2.0), ("sw_out", 2.0), ("lw_in", 1.5), ("lw_out", 1.5)):
            off = abs(mean[quantity] - getattr(row, quantity))
            assert off < tolerance + 0.01 * abs(getattr(row, quantity)) * quantity.startswith("sw")


def no_obstacle(self, carrier):
    self.carrier = replace(carrier, shoulder=0.0, cap=0.0)
    self.lower_share = self.upper_share = 0.0
    self.shadow = np.zeros((37, 12))


@pytest.mark.parametrize("order", ORDERS)
def test_orders_are_walked_as_named(order):
    survey = walks(11, order=order, fields=4, side_by_side=False, monitor=False, rounds=2)
    first = survey.of(survey.sets[0])
    visits = list(dict.fromkeys((leg.visit, leg.field) for leg in first))
    walked = [index for _, index in visits]
    expected = {
        "once": [0, 1, 2, 3],
        "a_then_b": [0, 1, 2, 3],
        "a_b_a": [0, 1, 0, 2, 3],
        "rounds": [0, 1, 2, 3, 0, 1, 2, 3],
        "two_at_a_time": [0, 1, 2, 3],
    }[order]
    assert walked == expected
    if order == "two_at_a_time":
        second = survey.of(survey.sets[1])
        assert [index for _, index in dict.fromkeys((leg.visit, leg.field) for leg in second)] == [2, 3, 0, 1]


def walks(seed: int, **choices):
    read = read_choices(choices)
    return people_walk(seed, build_scene(seed, read), read)


@pytest.mark.parametrize("seed", range(15))
def test_legs_of_one_set_do_not_overlap(seed):
    survey = walks(seed, fields=3)
    for name in survey.sets:
        legs = survey.of(name)
        for before, after in zip(legs[:-1], legs[1:], strict=True):
            assert before.end <= after.start


def test_tables_of_the_truth_are_whole(of_four_fields):
    day, truth = of_four_fields, of_four_fields.truth
    assert set(truth.fields["field"]) == {field.name for field in day.scene.fields}
    assert len(truth.course) == 4 * 1440
    closed = truth.course["net_radiation_slope"] - truth.course[
        ["ground_heat", "sensible_heat", "latent_heat"]
    ].sum(axis=1)
    assert closed.abs().max() < 1e-6
    rows = truth.segments[truth.segments["seconds"] > 0]
    net = rows["sw_in"] - rows["sw_out"] + rows["lw_in"] - rows["lw_out"]
    assert np.allclose(net, rows["net_radiation"])
    assert rows["share_on_field"].mean() > 0.8


def test_south_and_season():
    day = world.draw(2, hemisphere="south", season="summer", fields=2)
    assert day.scene.site.latitude < 0
    assert day.scene.site.midnight.month in (11, 12, 1, 2, 3)
    noon = day.scene.incoming[0].sun[:, np.argmax(day.scene.incoming[0].sun[2])]
    assert noon[1] > 0.0 or day.scene.site.latitude > -24.0


def test_night_has_no_light():
    day = world.draw(2, night=True, fields=2)
    assert day.truth.fields["sw_in"].max() < 5.0
    assert day.truth.fields["net_radiation"].max() < 20.0


def test_unknown_choices_are_refused():
    with pytest.raises(ValueError, match="unknown choice"):
        world.draw(1, colour="red")
    with pytest.raises(ValueError, match="sky"):
        world.draw(1, sky="green")


def test_a_campaign_takes_little_time():
    start = time.process_time()
    day = world.draw(31, sets=2, fields=6, order="rounds")
    assert len(day.truth.fields) == 6
    assert (
        time.process_time() - start < 4.0
    )  # 0.7 to 1.1 s alone on one core; the rest is room for a busy machine
