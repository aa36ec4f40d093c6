"""Sentences and cells of the first and second page, each from the facts that it is made of."""

import math
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest

from headland.report import page_answer, page_differences
from headland.report.differences import COMMON, of_quantity

NAN = math.nan
NAMES = {"a": "short grass", "b": "paving", "c": "stubble"}


def ranked(*surfaces, **changes):
    table = pd.DataFrame({"surface": list(surfaces), "state": ""})
    for place, name in enumerate((COMMON, "albedo", "surface_temperature", "net_radiation", "ground_heat",
                                  "sensible_heat", "latent_heat")):  # fmt: skip
        value = 500.0 - 10.0 * place - np.arange(float(len(surfaces)))
        table = table.assign(**{name: value, f"{name}_low": value - 20.0, f"{name}_high": value + 30.0})
    return table.assign(**changes)


def pairs(*rows, quantity=COMMON):
    names = ("surface_a", "surface_b", "difference", "difference_low", "difference_high", "distinguishable")
    return pd.DataFrame(rows, columns=names).assign(quantity=quantity)


def given(table=None, rows=None, **changes):
    rows = pairs() if rows is None else rows
    fields = {
        "ranked": ranked("a", "b", "c") if table is None else table,
        "tables": {"differences": rows, "checks": pd.DataFrame({"severity": []})},
        "name": lambda name: NAMES.get(name, name),
        "surfaces": {},
    }
    return SimpleNamespace(**fields | changes)


def no_words(monkeypatch, limit="", following=""):
    """The words on what limits the numbers and on what to do have tests of their own."""
    monkeypatch.setattr(page_answer.next_time, "found", lambda given: None)
    monkeypatch.setattr(page_answer.next_time, "limit_words", lambda known: limit)
    monkeypatch.setattr(page_answer.next_time, "next_words", lambda given, known: following)


# The first page


@pytest.mark.parametrize(
    "verdicts, said",
    [
        ((True, True, True), "That it absorbed most is sure at 95 %; 3 of 3 pairs of surfaces differ "
         "in net radiation (page 2)."),
        ((True, False, True), "It can't be told apart from stubble at 95 %; 2 of 3 pairs of "
         "surfaces differ in net radiation (page 2)."),
        ((False, "undecided", True), "It can't be told apart from paving and stubble at 95 %; 1 of 3 pairs "
         "of surfaces differ in net radiation (page 2), 1 can't be decided."),
        ((True, True, False), "That it absorbed most is sure at 95 %; 2 of 3 pairs of surfaces differ in net "
         "radiation (page 2)."),
        ((True, "", ""), "That it absorbed most is sure at 95 %; 1 of 1 pair of surfaces differ in net "
         "radiation (page 2)."),
        (("", "", ""), "No difference has an interval."),
    ],
)  # fmt: skip
def test_how_sure_the_first_is(verdicts, said):
    """The row of the first with the third is written the other way round."""
    rows = pairs(
        *(
            (*names, 5.0, 1.0, 9.0, verdict)
            for names, verdict in zip(("ab", "ca", "bc"), verdicts, strict=True)
        )
    )
    assert page_answer.sureness(given(), of_quantity(rows)) == said


def test_without_a_pair_nothing_can_be_compared():
    assert page_answer.sureness(given(), of_quantity(pairs())) == "No two surfaces can be compared."


@pytest.mark.parametrize("count, room", [(0, 131), (1, 122), (4, 93), (10, 37), (11, 28), (12, 0)])
def test_room_for_the_reader_s_words(count, room):
    """131 mm less 9.4 a surface; below 20 mm none."""
    assert page_answer.room(given(ranked(*map(str, range(count)))), []) == room
    wrong = given(ranked("a"))
    wrong.tables["checks"] = pd.DataFrame({"severity": ["warning", "error"]})
    assert page_answer.room(wrong, []) == 0


@pytest.mark.parametrize("letters, room", [((100,), 117), ((101,), 113), ((100, 30), 113)])
def test_what_limits_the_numbers_takes_4_4_mm_a_line_of_the_room(letters, room):
    words = [("row", "x" * count) for count in letters]
    assert page_answer.room(given(ranked("a")), words) == room


def test_a_row_has_its_values_and_how_much_less_than_the_first():
    rows = of_quantity(pairs(("a", "b", 12.4, 3.2, 21.9, True), ("c", "a", -30.0, -41.0, -18.0, True)))
    table = page_answer.answer(given(), rows)
    assert table["first"] == "short grass" and [row["less"] for row in table["rows"]] == [
        "", "12 [3, 22]", "30 [18, 41]",
    ]  # fmt: skip
    first = table["rows"][0]
    assert first["name"] == "short grass" and first["common"] == ("500", "[480, 530]")
    assert first["picture_words"] == "Short grass: net radiation 500 W m⁻², 95 % interval 480 to 530."
    assert first["measured"] == [("490", "[470, 520]"), ("480", "[460, 510]")]
    assert first["estimated"] == [("460", "[440, 490]"), ("450", "[430, 480]"), ("440", "[420, 470]")]
    assert table["axis_words"].startswith("Axis of net radiation under the common sky from 47")
    bare = page_answer.answer(given(ranked("a", **{f"{COMMON}_low": NAN, f"{COMMON}_high": NAN})), rows)
    assert bare["rows"][0]["picture_words"] == "Short grass: net radiation 500 W m⁻²."
    none = page_answer.answer(given(ranked()), rows)
    assert none["rows"] == [] and none["axis"] == "" and none["axis_words"].endswith("common sky.")


@pytest.mark.parametrize(
    "states, notes, sound",
    [(["", ""], [], True), (["provisional", ""], ["Grey"], False), (["", "withheld"], ["Withheld"], False),
     (["withheld", "provisional"], ["Grey", "Withheld"], False)],
)  # fmt: skip
def test_what_the_states_of_numbers_mean(states, notes, sound):
    one = given(ranked("a", "b").assign(state=states))
    assert [note[: len(start)] for note, start in zip(page_answer.notes(one), notes, strict=True)] == notes
    assert page_answer._nothing_doubtful(one) == (["no number is provisional"] if sound else [])


def settings(**site):
    place = {"name": "Brook farm", "latitude": -46.12346, "longitude": 7.1, "elevation": 429.6} | site
    return {
        "site": place, "zone": "Europe/Zurich",
        "sets": {"heron": {"logger_id": "H-1"}, "teal": {"logger_id": "T-2"}},
        "weather": {"air_temperature": 18.25, "pressure": None},
    }  # fmt: skip


def frame(*times, up=(10.0, 50.0)):
    stamps = pd.Series(pd.to_datetime(list(times), utc=True))
    return pd.DataFrame({"time_utc": stamps, "solar_elevation": np.linspace(*up, len(times))})


DAY = {
    "heron": frame("2026-05-21T09:00Z", "2026-05-21T10:00Z"),
    "teal": frame("2026-05-21T08:30Z", "2026-05-21T09:40Z", up=(5.4, 61.6)),
    "rail": frame(),
}


def facts(samples=DAY, skies=("clear", "broken", "clear", ""), sky=(801.4, 338.6), weather=(), **site):
    one = given(
        settings=settings(**site), samples=samples, sky=sky, weather=pd.DataFrame(weather),
        tables={"segments": pd.DataFrame({"sky": pd.Series(skies, dtype="str")})},
    )  # fmt: skip
    return dict(page_answer.facts(one))


def test_where_when_with_what_and_under_which_sky():
    found = facts()
    assert found["Where"] == "Brook farm (46.1235° S, 7.1000° E, 430 m)"
    assert facts(latitude=0.5, longitude=-7.25)["Where"].startswith("Brook farm (0.5000° N, 7.2500° W")
    assert found["Sets"] == "heron (logger H-1) and teal (logger T-2)"
    assert found["When"] == ("2026-05-21, 08:30 to 10:00 UTC, 10:30 to 12:00 local time (Europe/Zurich)")
    assert found["Sky"] == "broken in 1 and clear in 2 of 4 segments; sun 5 to 62° high"
    assert found["Weather"] == "air 18.2 °C (campaign.yaml)"
    assert found["Common sky"] == (
        "801 W m⁻² shortwave and 339 W m⁻² longwave from above, the means over all segments"
    )
    assert "Common sky" not in facts(sky=(801.0, NAN))
    assert facts(skies=("", ""))["Sky"] == "sun 5 to 62° high"
    nothing = facts(samples={"rail": frame()}, skies=())
    assert nothing["Sky"] == "not known" and nothing["When"] == "nothing recorded"


@pytest.mark.parametrize(
    "last, said",
    [
        ("2026-05-21T21:59Z", "2026-05-21, 09:00 to 21:59 UTC, 11:00 to 23:59 local time (Europe/Zurich)"),
        ("2026-05-21T22:01Z", "2026-05-21 09:00 to 2026-05-21 22:01 UTC, 2026-05-21 11:00 to "
         "2026-05-22 00:01 local time (Europe/Zurich)"),
        ("2026-05-22T00:30Z", "2026-05-21 09:00 to 2026-05-22 00:30 UTC, 2026-05-21 11:00 to "
         "2026-05-22 02:30 local time (Europe/Zurich)"),
    ],
)  # fmt: skip
def test_a_record_beyond_midnight_here_or_there_has_its_dates(last, said):
    assert facts({"heron": frame("2026-05-21T09:00Z", last)})["When"] == said


def test_up_to_three_days_are_named_and_more_are_a_span():
    def days(*named):
        samples = {"heron": frame(*(f"2026-05-{day}T10:00Z" for day in named)), "rail": frame()}
        return page_answer.days(given(samples=samples))

    assert days("23", "21", "21") == "2026-05-21, 2026-05-23"
    assert days("21", "22", "23") == "2026-05-21, 2026-05-22, 2026-05-23"
    assert days("21", "22", "23", "25") == "2026-05-21 to 2026-05-25" and days() == "nothing recorded"


def test_weather_is_of_an_hour_before_the_record_to_an_hour_after():
    rows = {
        "time_utc": pd.to_datetime(["2026-05-21T07:29Z", "2026-05-21T07:30Z", "2026-05-21T11:00Z",
                                    "2026-05-21T11:01Z"], utc=True),
        "air_temperature": [-40.0, 18.0, 21.0, 60.0], "relative_humidity": [1.0, 55.4, 55.0, 99.0],
        "wind_speed": NAN, "pressure": [1.0, 955.0, 957.0, 2.0],
    }  # fmt: skip
    said = facts(weather=rows)["Weather"]
    assert said == "air 18.0 to 21.0 °C, humidity 55 %, pressure 955 to 957 hPa (weather.csv)"
    gone = rows | dict.fromkeys(("air_temperature", "relative_humidity", "pressure"), NAN)
    assert facts(weather=gone)["Weather"] == "not known"


@pytest.mark.parametrize(
    "count, said", [(0, None), (1, "short grass and paving (page 2)"), (5, "5 pairs (page 2)")]
)
def test_pairs_that_are_not_told_apart_are_named_up_to_four(count, said, monkeypatch):
    alike = [("a", "b", 1.0, -2.0, 3.0, (False, "undecided")[n % 2]) for n in range(count)]
    rows = pairs(("a", "c", 9.0, 5.0, 12.0, True), ("b", "c", 9.0, NAN, NAN, ""), *alike)
    no_words(monkeypatch)
    one = given()
    assert dict(page_answer.limits(one, of_quantity(rows))) == ({"Not told apart": said} if said else {})
    four = pairs(*[("a", "b", 1.0, -2.0, 3.0, False)] * 4)
    assert dict(page_answer.limits(one, of_quantity(four)))["Not told apart"].count(";") == 3


def test_what_limits_and_what_to_do_are_rows_of_their_own(monkeypatch):
    no_words(monkeypatch, "± 30: mostly clouds", "Wait.")
    found = page_answer.limits(given(surfaces={"a": {}}), of_quantity(pairs()))
    assert found == [("What limits", "± 30: mostly clouds (page 5)"), ("Next time", "Wait.")]


# The second page


ROWS = (
    ("a", "b", 12.4, 3.2, 21.9, True),
    ("c", "a", -30.0, -41.0, 18.0, False),
    ("b", "c", 18.0, -1.0, 33.0, "undecided"),
)


def test_half_a_matrix_is_the_surface_above_less_that_of_the_row():
    made = page_differences.matrix(given(), of_quantity(pairs(*ROWS)), ["a", "b", "c"])
    assert made["heads"] == ["short grass", "paving"] and made["wide"]
    assert [(line["name"], line["empty"]) for line in made["rows"]] == [("paving", 1), ("stubble", 0)]
    cells = [[(one["text"], one["below"], one["kind"]) for one in line["cells"]] for line in made["rows"]]
    assert cells == [
        [("12", "[3, 22]", "differ")],
        [("30 (no)", "[−18, 41]", "same"), ("18 ?", "[−1, 33]", "undecided")],
    ]
    words = [one["words"] for line in made["rows"] for one in line["cells"]]
    assert words == ["differ", "can't be told apart", "can't be decided"]
    unknown = page_differences.matrix(given(), of_quantity(pairs()), ["a", "b"])["rows"][0]["cells"][0]
    assert (unknown["text"], unknown["kind"], unknown["words"]) == ("–", "none", "no interval")
    for count, wide in ((9, True), (10, False)):
        names = [str(n) for n in range(count)]
        assert page_differences.matrix(given(), of_quantity(pairs()), names)["wide"] == wide


def test_causes_are_albedo_to_the_right_and_temperature_to_the_left():
    albedo = pairs(("a", "b", 0.05, 0.04, 0.06, True), quantity="albedo")
    warmth = pairs(("b", "a", -3.21, -4.0, -2.0, True), quantity="surface_temperature")
    one = given(rows=pd.concat([albedo, warmth, pairs(*ROWS)], ignore_index=True))
    first, second = page_differences.causes(one, ["a", "b"])
    assert first["cells"][0] is None and second["cells"][1] is None
    assert (first["cells"][1]["text"], first["cells"][1]["below"]) == ("−0.050", "[−0.060, −0.040]")
    assert (second["cells"][0]["text"], second["cells"][0]["title"]) == ("3.2", "surface temperature")
    assert page_differences.causes(one, ["a"]) == []
    assert page_differences.other_quantities(one) == (
        "By albedo 1 of 1 pair differ and by surface temperature 1 of 1 pair differ."
    )
    assert page_differences.other_quantities(given()) == ""


def test_pairs_that_the_day_can_t_decide_stand_with_their_reason():
    words = (("ab", "undecided"), ("ac", "undecided"), ("bc", "undecided"), ("cb", True))
    rows = pairs(*[(*pair, 1.0, NAN, NAN, word) for pair, word in words])
    rows = of_quantity(rows.assign(why=["x W m-2", "y", "x W m-2", "z"]))
    assert page_differences.undecided(given(), rows) == [
        ("short grass − paving and paving − stubble", "x W m⁻²"), ("short grass − stubble", "y"),
    ]  # fmt: skip
    assert page_differences.undecided(given(), rows.drop(columns="why")) == []


@pytest.mark.parametrize(
    "count, reasons, shown", [(9, 0, True), (10, 0, False), (7, 1, True), (8, 1, False), (1, 0, False)]
)
def test_the_page_has_room_for_the_causes_of_nine_surfaces(count, reasons, shown):
    names = [str(n) for n in range(count)]
    rows = pairs(*[("0", name, 5.0, NAN, NAN, "undecided" if n < reasons else True)
                   for n, name in enumerate(names[1:])])  # fmt: skip
    one = given(ranked(*names), rows.assign(why="because"))
    one.tables["fields"] = pd.DataFrame(columns=["surface", "field", "albedo", "surface_temperature"])
    found = page_differences.context(one)
    assert bool(found["causes"]) == shown and len(found["undecided"]) == reasons
    assert found["scatter_words"] == "No field has both values."
    assert len(found["matrix"]["rows"]) == max(count - 1, 0)


def test_fields_in_words():
    one = given()
    one.tables["fields"] = pd.DataFrame(
        {"surface": ["a", "b", "c"], "field": ["Moor", "", "Yard"], "albedo": [0.2, 0.155, NAN],
         "surface_temperature": [25.04, -1.0, 3.0]}
    )  # fmt: skip
    assert page_differences.scatter_words(one) == (
        "Albedo across, surface temperature up. Moor (short grass): albedo 0.20, 25.0 °C; "
        "paving (paving): albedo 0.15, −1.0 °C."
    )
