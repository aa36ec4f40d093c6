"""What a term of one's own may act on: every error that the measurement model knows."""

import re

from headland.base.classes import ACTS_ON, TERMS
from headland.files.uncertainty_terms import uncertainty_terms
from headland.uncertainty import model

from ..files.made_settings import CONFIG

NOT_FOR_USERS = {
    "heading", "incoming_heading", "emissivity", "carrier_there", "neighbour_albedo",
    "neighbour_longwave", "side_by_side_sw_in", "side_by_side_sw_out",
    "side_by_side_lw_in", "side_by_side_lw_out", "walked_sw_out", "walked_lw_out",
}  # fmt: skip


def errors_of_the_model():
    """The names in the model's own list, with their channels."""
    listed = model.__doc__.split("act on:\n")[1]
    names = []
    for line in listed.splitlines():
        for word in (
            re.match(r"\s{4}([a-z_<> ,]*?)(?:\s{2,}|$)", line).group(1).split(",") if line.strip() else ()
        ):
            word = word.strip()
            band = re.search("<(sw|lw) channel>", word)
            if band:
                names += [word.replace(band[0], f"{band[1]}_{way}") for way in ("in", "out")]
            elif "<channel>" in word:
                names += [word.replace("<channel>", c) for c in ("sw_in", "sw_out", "lw_in", "lw_out")]
            elif word:
                names.append(word)
    return set(names)


def test_a_term_may_act_on_every_error_of_the_model():
    errors = errors_of_the_model()
    assert {"factor_sw_in", "body_lw_in", "body_lw_out", "window_lw_in", "level_along"} <= errors
    assert errors - NOT_FOR_USERS <= set(ACTS_ON)
    assert len(set(ACTS_ON)) == len(ACTS_ON)


def test_the_table_has_every_term_once():
    assert set(uncertainty_terms(CONFIG / "uncertainty.csv")) >= set(TERMS) and len(set(TERMS)) == len(TERMS)
