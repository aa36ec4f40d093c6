"""A campaign folder with all its files but campaign.yaml."""

import pytest


@pytest.fixture
def campaign(tmp_path):
    folder = tmp_path / "spring"
    (folder / "logger").mkdir(parents=True)
    (folder / "logger/heron_1.csv").write_text("x\n")
    for name in ("notes.csv", "instruments.csv"):
        (folder / name).write_text("x\n")
    return folder
