"""Folders that can not be written, and dates."""

import os
import subprocess
import time

import pytest

from front import chain
from front.problems import CannotStart


def test_a_results_folder_that_can_t_be_written_is_told_in_one_line(project):
    (project / "a file").touch()
    with pytest.raises(CannotStart, match="can't be written .Not a directory.: correct that"):
        chain.can_write(project / "a file" / "results")


def test_an_input_dated_in_the_future_is_told_with_the_remedy_and_results_are_dated_now(project):
    campaign, results = project / "my day", project / "results"
    for folder in (campaign, results):
        folder.mkdir()
        (folder / "file.csv").touch()
    chain.not_dated_ahead([campaign])
    os.utime(campaign / "file.csv", (time.time() + 3600,) * 2)
    with pytest.raises(CannotStart, match="my day/file.csv is dated in the future") as told:
        chain.not_dated_ahead([campaign])
    subprocess.run(str(told.value).split("`")[1], shell=True, check=True, cwd=project)
    chain.not_dated_ahead([campaign])
    assert chain.dated_ahead(results) == []
