"""What a finding of one set puts down."""

from types import SimpleNamespace

import numpy as np
import pandas as pd

from headland.checks.one_set import OneSet


def one():
    time = pd.Series(pd.date_range("2026-05-21T10:00:00Z", periods=10, freq="1s"))
    return SimpleNamespace(
        time=time,
        record=SimpleNamespace(name="heron"),
        result=SimpleNamespace(findings=[], wrong=set(), untold=[]),
    )


def test_the_channels_of_an_error_count_as_wrong_and_those_of_a_doubt_do_not():
    here = one()
    OneSet.report(here, "sign-reversed", channel="sw_in lw_in")
    assert here.result.wrong == {"sw_in", "lw_in"}
    OneSet.report(here, "sign-reversed", "undecided", channel="lw_out", error=False)
    assert here.result.wrong == {"sw_in", "lw_in"}


def test_a_finding_is_dated_by_the_samples_that_it_concerns():
    here = one()
    OneSet.report(here, "frozen", where=np.arange(10) % 5 == 3, channel="sw_in", steps=4)
    (found,) = here.result.findings
    assert (found.start_utc, found.end_utc) == ("2026-05-21T10:00:03Z", "2026-05-21T10:00:08Z")
    assert (found.set, found.channel, found.facts) == ("heron", "sw_in", {"steps": 4})
    OneSet.report(here, "frozen", where=np.zeros(10, bool))
    assert (here.result.findings[-1].start_utc, here.result.findings[-1].end_utc) == ("", "")


def test_a_check_that_could_not_be_made_names_set_and_channels():
    here = one()
    OneSet.can_t_tell(here, "channel-frozen", "coarse-steps", "sw_out")
    (told,) = here.result.untold
    assert (told.code, told.reason, told.set, told.channel) == (
        "channel-frozen",
        "coarse-steps",
        "heron",
        "sw_out",
    )
