"""What differs between two archives."""

import io
import json

import pytest

from headland.record import bag, two

from .made import TABLE, packed, payload


def opened(**more) -> bag.Bag:
    return bag.opened(io.BytesIO(packed(payload(**more))))


def described(**campaign) -> bytes:
    return json.dumps({"campaign": campaign, "inputs": []}).encode()


def test_equal_archives_differ_in_nothing():
    assert two.differences(opened(), opened()) == {}


def test_a_campaigns_folder_may_have_another_name():
    other = {"inputs/y/campaign.yaml": b"title: x\n", "inputs/x/campaign.yaml": None}
    files = {name: content for name, content in payload(**other).items() if content is not None}
    assert two.differences(opened(), bag.opened(io.BytesIO(packed(files)))) == {}


@pytest.mark.parametrize(
    "more, about, line",
    [
        ({"inputs/x/campaign.yaml": b"title: y\n"}, "Files that went in", "campaign.yaml: other content"),
        ({"inputs/x/notes.csv": b"a\n"}, "Files that went in", "notes.csv: only the second holds it"),
        (
            {"settings.json": described(site={"latitude": 46.0})},
            "Settings",
            "site.latitude: 45.0, in the second 46.0",
        ),
        ({"settings.json": described()}, "Settings", "site.latitude: 45.0, in the second not set"),
        ({"versions.json": b'{"headland": "2"}'}, "Versions", "headland: absent, in the second 2"),
        ({"project/Snakefile": b"x"}, "Programs and their settings", "Snakefile: other content"),
        (
            {"results/surfaces.csv": TABLE.replace(b"0.2500", b"0.2600")},
            "Numbers",
            "surfaces.csv, column albedo: 1 of 2 cells, such as 0.2500 and now 0.2600",
        ),
        ({"results/report.html": b"x"}, "Other results", "report.html: other bytes"),
        ({"results/new.csv": b"a\n"}, "Numbers", "new.csv: only the second holds it"),
    ],
)
def test_each_difference_has_its_place_and_no_other(more, about, line):
    first = {"settings.json": described(site={"latitude": 45.0})}
    assert two.differences(opened(**first), opened(**{**first, **more})) == {about: [line]}
