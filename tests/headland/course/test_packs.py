"""Packs for groups, made from the demo and read back."""

import pandas as pd
import pytest
import yaml

from headland.base.errors import UserErrors
from headland.course import packs
from headland.files import settings, user_tables
from headland.files.surfaces import surface_classes

from .made_survey import CONFIG, DEMO

CLASSES = surface_classes(CONFIG / "surfaces.csv", {})


def source(sky=None):
    return packs.Source(DEMO, settings.load(DEMO, CONFIG), CLASSES, sky)


def made(folder, text, sky=None):
    (folder / "groups.csv").write_text(text)
    return packs.made(folder / "packs", source(sky), folder / "groups.csv", "packs")


@pytest.fixture(scope="module")
def pack(tmp_path_factory):
    folder = tmp_path_factory.mktemp("class")
    groups = "group,surfaces\nRed Team,paving; short_grass\nBlue,stubble\n"
    lines = made(folder, groups, (821.0, 338.5))
    return folder / "packs" / "01_red-team", lines


def test_a_line_on_each_pack(pack):
    _, lines = pack
    assert len(lines) == 3 and lines[0].startswith("  packs/01_red-team: ") and "02_blue" in lines[1]
    assert "paving" in lines[0] and ("(sets " in lines[0]) == (" and " in lines[0].split("(")[1])


def test_notes_hold_the_group_s_surfaces_and_what_serves_its_sets(pack):
    folder, _ = pack
    noted, found = user_tables.read_user_table(folder / "notes.csv", "notes")
    whole, _ = user_tables.read_user_table(DEMO / "notes.csv", "notes")
    walked = noted["activity"].isin(("", "walk", "stand"))
    assert not found and set(noted.loc[walked, "surface"]) == {"paving", "short_grass"}
    of_whole = whole["surface"].isin(("paving", "short_grass")) & whole["activity"].isin(
        ("", "walk", "stand")
    )
    assert walked.sum() == of_whole.sum()
    sets = set(noted.loc[walked, "set"])
    serving = whole[~whole["activity"].isin(("", "walk", "stand")) & whole["set"].isin(sets)]
    assert len(noted) == of_whole.sum() + len(serving)
    register, _ = user_tables.read_user_table(folder / "instruments.csv", "instruments")
    assert set(register["set"]) == sets


def test_the_pack_is_a_campaign_of_its_own(pack):
    folder, _ = pack
    values = yaml.safe_load((folder / "campaign.yaml").read_text())
    S = settings.load(folder, CONFIG)
    assert values["title"].endswith(": Red Team") and set(S["sets"]) == set(values["sets"])
    for entry in S["sets"].values():
        for file in entry["raw"]:
            assert (folder / file).read_bytes() == (DEMO / file).read_bytes()
    assert (folder / "weather.csv").read_bytes() == (DEMO / "weather.csv").read_bytes()
    assert not (folder / "truth").exists() and not list(folder.glob("*.html"))


def test_answers_ask_for_each_quantity_with_its_unit(pack):
    folder, _ = pack
    table = pd.read_csv(folder / "answers.csv", keep_default_na=False)
    assert list(dict.fromkeys(table["surface"])) == ["paving", "short_grass"] and set(table["who"]) == {
        "Red Team"
    }
    units = dict(zip(table["quantity"], table["unit"], strict=True))
    assert units["albedo"] == "1" and units["net_radiation"] == "W m-2" and units["evaporation"] == "mm h-1"
    assert packs.COMMON in units and (table["value"] == "").all()


def test_the_guide_names_the_sky_the_zone_and_the_surfaces(pack):
    text = (pack[0] / "GUIDE.md").read_text()
    assert "821.0 W m⁻², longwave in 338.5 W m⁻²" in text and "# Red Team" in text
    assert "(`paving`)" in text and "weather.csv" in text and "report packs/01_red-team" in text
    assert f"local ({settings.load(DEMO, CONFIG)['notes']['timezone']})" in text


@pytest.mark.parametrize(
    "surface, there, absent",
    [("short_grass", ["ground_heat", "latent_heat", "bowen_ratio"], []),
     ("paving", ["ground_heat", "latent_heat"], ["bowen_ratio"]),
     ("snow", ["albedo"], ["ground_heat", "latent_heat", "bowen_ratio"])],
)  # fmt: skip
def test_what_is_asked_of_a_surface(surface, there, absent):
    asked = packs.quantities_of(surface, source())
    assert set(there) <= set(asked) and not set(absent) & set(asked) and packs.COMMON not in asked
    assert packs.COMMON in packs.quantities_of(surface, source((800.0, 330.0)))


@pytest.mark.parametrize(
    "text, said", [("group,surfaces\nA,lava\n", "lava"), ("group,surfaces\nA,snow\n", "snow")]
)
def test_a_surface_that_was_not_walked_is_refused(tmp_path, text, said):
    with pytest.raises(UserErrors, match=said):
        made(tmp_path, text)


@pytest.mark.parametrize(
    "rows, wanted",
    [
        ([("A", ""), ("B", "")], {"A": ["x", "z"], "B": ["y"]}),
        ([("A", ""), ("B", ""), ("C", ""), ("D", ""), ("E", "")],
         {"A": ["x"], "B": ["y"], "C": ["z"], "D": ["x"], "E": ["y"]}),
        ([("A", "y; z"), ("B", "")], {"A": ["y", "z"], "B": []}),
        ([("A", "x y"), ("B", ";z;")], {"A": ["x", "y"], "B": ["z"]}),
    ],
)  # fmt: skip
def test_surfaces_are_those_named_or_dealt_out_in_turn(rows, wanted):
    groups = pd.DataFrame(rows, columns=["group", "surfaces"])
    assert packs.dealt(groups, ["x", "y", "z"]) == wanted


@pytest.mark.parametrize("text", ["A,paving\nA,stubble\n", ",paving\nB,stubble\n"])
def test_groups_have_names_of_their_own(tmp_path, text):
    with pytest.raises(UserErrors, match="a group twice, or one without a name"):
        made(tmp_path, "group,surfaces\n" + text)


def test_all_surfaces_that_were_not_walked_are_told_at_once():
    with pytest.raises(UserErrors) as problem:
        packs._refuse_unknown({"A": ["snow", "x"], "B": ["lava"]}, ["x", "y"], "groups.csv", "notes.csv")
    said = [(one.file, one.found, one.expected) for one in problem.value.errors]
    assert said == [
        ("groups.csv", 'A: no surface "snow" was walked', "one of x, y"),
        ("groups.csv", 'B: no surface "lava" was walked', "one of x, y"),
    ]
    with pytest.raises(UserErrors, match="no surface was walked"):
        packs._refuse_unknown({"A": []}, [], "groups.csv", "notes.csv")
    packs._refuse_unknown({"A": ["x"]}, ["x"], "groups.csv", "notes.csv")


def test_a_guide_names_one_set_or_several_and_each_quantity_once():
    asked = {"paving": ["sw_in", "albedo"], "short_grass": ["albedo"]}
    text = packs.guide("Blue", asked, ["curlew", "lapwing"], source(), "x")
    assert "Your sets: curlew and lapwing." in text and text.count("albedo") == 2  # the other is the example
    assert "common sky" not in text and "    Blue,paving,albedo,0.213,1,0.01" in text
    assert "Your set: curlew." in packs.guide("Blue", asked, ["curlew"], source(), "x")


def test_the_common_sky_is_that_of_the_run_s_segments(tmp_path, monkeypatch):
    (tmp_path / "steps" / "6_summarise").mkdir(parents=True)
    (tmp_path / "steps" / "6_summarise" / "segments.csv").touch()
    monkeypatch.setattr(packs.tables, "read_table", lambda path, kind: (path.name, kind))
    monkeypatch.setattr(packs.summarise, "reference_sky", lambda table: table)
    assert packs.common_sky(tmp_path) == ("segments.csv", "segment_means")


def test_without_results_there_is_no_common_sky(tmp_path):
    assert packs.common_sky(None) is None and packs.common_sky(tmp_path) is None


def test_the_guide_quotes_a_folder_with_a_blank_in_its_name():
    text = packs.guide("Red Team", {"paving": ["albedo"]}, ["curlew"], source(), "my packs/01_red-team")
    assert "headland.py report 'my packs/01_red-team'" in text
