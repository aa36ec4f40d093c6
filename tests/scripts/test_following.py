"""`report --follow`: what is said of each change."""

import pytest

from front import following

from .helpers import leave, said

WARNING = "warning,swing-strong,screen,plover,,,,,,The head swings.,Walk slower."


@pytest.fixture
def followed(project, screen):
    return following.Followed(leave(WARNING), screen)


def test_a_change_is_said_with_what_was_found_and_its_steps_are_not(followed, screen):
    for line in ("FOLLOW ready", "FOLLOW begin", "total 2", "Job 1: Averaging", "FOLLOW page 0 3.2"):
        followed.read(line)
    assert followed.busy
    followed.read("FOLLOW rest 0 4.4")
    assert not followed.busy and said(screen) == [
        "Watching; end with Ctrl-C. This page refreshes itself: results/day/follow.html",
        "WARNING  swing-strong  plover  The head swings.  -> Walk slower.",
        "Found: 0 errors, 1 warning, 0 notes.",
        "The page is new, 3.2 s after the change: results/day/follow.html",
        "PDF and tables are new, 4.4 s after the change.",
    ]


def test_settings_that_cannot_be_used_are_said_and_the_watching_goes_on(followed, screen):
    wrong = 'campaign.yaml, line 6: site.latitude is "x"; expected a number'
    for line in ("FOLLOW begin", "Using profile x", wrong, "FOLLOW page 2 0.3", "FOLLOW begin"):
        followed.read(line)
    assert said(screen) == [wrong, "The page was not changed. Correct it and save: it is tried again."]
    assert followed.busy


def test_a_failed_step_is_explained(followed, screen):
    for line in ("FOLLOW begin", "Job 1: Averaging", "Error in rule summarise:", "    jobid: 1"):
        followed.read(line)
    followed.read("FOLLOW page 1 0.3")
    assert said(screen)[0] == "This step failed: Averaging" and not followed.busy
