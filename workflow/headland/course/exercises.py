"""Questions made from a campaign's own numbers, each with its answer. The sheet prints the first, the key
both."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

import pandas as pd

from headland.base.flags import has_any
from headland.course.exercises_of_balance import of_balance, of_visits
from headland.course.questions import Part, Question
from headland.physics import longwave, radiation
from headland.physics.constants import ZERO_CELSIUS
from headland.physics.longwave import own_emission
from headland.report import figures, page_one_number
from headland.report.wording import listed, number, with_interval

COMPARED = "net_radiation_common_sky"
FOLLOWED = 4
"""Samples of one walk that a question gives."""


class Numbers(NamedTuple):
    """What the questions are made of.

    surfaces, differences: tables that users get. worked: rows of worked.json. samples: a few samples (sw_in,
    sw_out, W m-2) of one segment. classes: class properties. visits: step 7's with what a weather station
    would say and the surface temperature of each; none where that is not known.
    """

    surfaces: pd.DataFrame
    differences: pd.DataFrame
    worked: pd.DataFrame
    samples: pd.DataFrame
    classes: Mapping[str, Mapping]
    visits: pd.DataFrame | None = None

    def called(self, surface: str) -> str:
        """What people call a surface."""
        return self.classes[surface]["label"]["value"]


def questions(given: Numbers) -> list[Question]:
    """Every question that the campaign has numbers for."""
    return [
        *_gains(given),
        *_missed_correction(given),
        *_hard_to_tell(given),
        *_ratio_of_sums(given.samples),
        *_by_hand(given.worked, _printed(given)),
        *_black(given),
        *_balance(given),
        *of_balance(given.surfaces, given.called),
        *of_visits(given.visits, given.called),
    ]


def _gains(given: Numbers) -> Iterator[Question]:
    known = given.surfaces[given.surfaces[COMPARED].notna()].sort_values(COMPARED)
    if len(known) < 2:
        return
    least, most = known.iloc[0], known.iloc[-1]
    yield Question(
        "Under one common sky, which surface gains most net radiation, and which least? Two of the four "
        "terms depend on "
        "the surface itself: which, and which of them decides here?",
        f"Most: {_values_of(most, given)}. Least: {_values_of(least, given)}. A surface can only change "
        "what it reflects "
        "(albedo) and what it emits (surface temperature); what comes from the sky is the same for both. "
        + _deciding(least, most),
        (
            Part("most", COMPARED, float(most[COMPARED])),
            Part("least", COMPARED, float(least[COMPARED])),
        ),
    )


def _values_of(row: pd.Series, given: Numbers) -> str:
    value = with_interval(row[COMPARED], row[COMPARED + "_low"], row[COMPARED + "_high"], 0)
    return (
        f"{given.called(row['surface'])}: {value} W m⁻², albedo "
        f"{number(row['albedo'], 3)}, "
        f"{number(row['surface_temperature'], 1)} °C"
    )


def _deciding(least: pd.Series, most: pd.Series) -> str:
    reflected = (least["albedo"] - most["albedo"]) * (least["sw_in"] + most["sw_in"]) / 2.0
    warm, cool = (own_emission(row["surface_temperature"] + ZERO_CELSIUS) for row in (least, most))
    if not math.isfinite(reflected):
        return ""
    return (
        f"Between these two the albedo makes about {number(reflected, 0)} W m⁻² and the temperature about "
        f"{number(float(warm - cool), 0)} W m⁻²."
    )


def _missed_correction(given: Numbers) -> Iterator[Question]:
    of_samples = given.worked[given.worked["part"] == "sample"]
    own = of_samples.drop_duplicates("key").set_index("key")["value"]
    if not len(given.surfaces) or not {"calibrate.lw_in_net", "calibrate.lw_out_net"} <= set(own.index):
        return
    incoming, outgoing = own["calibrate.lw_in_net"], own["calibrate.lw_out_net"]
    difference = number(incoming - outgoing, 1)
    yield Question(
        "Somebody forgets to add the own emission of both longwave heads. Why does net radiation not "
        "reveal it? Which "
        "numbers do?",
        "With one thermometer for both heads the same σT⁴ is missing in both terms and cancels in their "
        "difference: "
        f"{number(incoming, 1)} − ({number(outgoing, 1)}) = {difference} W m⁻², as with the correction. "
        "The two terms "
        "alone and the surface temperature reveal it: no sky or surface emits only a few W m⁻², or less "
        "than nothing.",
        (Part("difference", "net_radiation", float(incoming - outgoing)),),
    )


def _hard_to_tell(given: Numbers) -> Iterator[Question]:
    table = given.differences
    known = table["difference"].notna() & table["difference_low"].notna()
    rows = table[(table["quantity"] == COMPARED) & known]
    if not len(rows):
        return
    row = rows.iloc[int(rows["difference"].abs().argmin())]
    names = [row["surface_a"], row["surface_b"]]
    a, b = (given.called(name) for name in names)
    sw_in = given.surfaces.set_index("surface").loc[names, "sw_in"].mean()
    different = row["distinguishable"] == "true"
    share = 100.0 * abs(row["difference"]) / sw_in
    value = with_interval(row["difference"], row["difference_low"], row["difference_high"], 1)
    yield Question(
        f"The two surfaces that are closest together are {a} and {b}. Are they different? Suppose one of "
        "them had been "
        "walked with a set whose upward shortwave head has a wrong factor: how well would you have to know "
        "that factor "
        "for its error to stay below the difference?",
        f"The difference is {value} W m⁻² under the common sky: "
        f"{'yes, zero is outside' if different else 'no, zero is inside'}. An error r of the factor "
        "changes net radiation "
        f"by r × SW in, here about {number(sw_in, 0)} W m⁻²; so r must stay below "
        f"{number(abs(row['difference']), 1)} / {number(sw_in, 0)} = {number(share, 2)} %. Certificates "
        "rarely promise "
        "that, which is why a difference measured with one set is worth more than two values measured with "
        "two.",
        (Part("share", "albedo", float(share) / 100.0),),
    )


def _ratio_of_sums(samples: pd.DataFrame) -> Iterator[Question]:
    good = samples[samples["sw_in"] > radiation.ALBEDO_SW_IN]
    if len(good) < 2:
        return
    pairs = [f"{number(r['sw_in'], 1)} and {number(r['sw_out'], 1)}" for r in good.to_dict("records")]
    right = float(radiation.albedo(good["sw_in"], good["sw_out"]))
    wrong = float((good["sw_out"] / good["sw_in"]).mean())
    yield Question(
        f"Some samples of one walk, SW in and SW out in W m⁻²: {listed(pairs)}. What is the albedo of the "
        "walk? What "
        "comes out if you average the ratios instead, and under which sky would the two differ much?",
        f"Ratio of sums: {number(right, 4)}. Mean of ratios: {number(wrong, 4)}. They differ where SW in "
        "changes much "
        "from sample to sample while the ground changes too, or where dim samples have an offset: under "
        "broken cloud.",
        (Part("albedo", "albedo", right), Part("mean of ratios", "albedo", wrong)),
    )


LOGGED = (
    *(f"{name} as logged" for name in ("shortwave in", "shortwave out", "longwave in", "longwave out")),
    "body temperature",
)
NAMED_UNITS = {"degC": "°C", "W m-2": "W m⁻²"}


def _logged(row: Mapping) -> str:
    """A stored value with the digits that a logger has; the key is computed with all of them."""
    decimals = 2 if row["unit"] in NAMED_UNITS else 4
    return f"{row['meaning']} {number(row['value'], decimals)} {NAMED_UNITS.get(row['unit'], row['unit'])}"


def _printed(given: Numbers) -> str:
    """The set whose sample the report works out on its page: its numbers are no question."""
    rows = given.worked[given.worked["part"] == "surface"].drop_duplicates("set")
    surfaces = dict(zip(rows["set"], rows["item"], strict=True))
    ranked = [given.called(name) for name in figures.order(given.surfaces)]
    return page_one_number.followed_set(surfaces, ranked)


def _by_hand(worked: pd.DataFrame, printed: str) -> Iterator[Question]:
    """A sample of each set to work out, except of the set whose sample is printed in the report."""
    samples = worked[(worked["part"] == "sample") & (worked["set"] != printed)]
    for name, rows in samples.groupby("set", sort=False):
        stored = rows[rows["meaning"].isin(LOGGED)].to_dict("records")
        factors = [
            f"{row['meaning'].removeprefix('factor of ')} {number(row['value'], 2)}"
            for row in rows[rows["meaning"].str.startswith("factor of")].to_dict("records")
        ]
        by = f". Factors in W m⁻² per mV: {listed(factors)}" if factors else ""
        terms = rows[(rows["key"] != "") & (rows["unit"] == "W m-2")].to_dict("records")
        answer = "; ".join(f"{row['meaning']} {number(row['value'], 2)}" for row in terms)
        yield Question(
            f"Work out one sample of set {name} by hand: {listed([_logged(row) for row in stored])}{by}. "
            "What are the "
            "four terms, and what is net radiation?",
            f"In W m⁻²: {answer}. The report shows the same steps for the set {printed}."
            if printed
            else f"In W m⁻²: {answer}.",
            tuple(Part(row["meaning"], "net_radiation", float(row["value"])) for row in terms),
        )


def _black(given: Numbers) -> Iterator[Question]:
    known = given.surfaces[given.surfaces["surface_temperature"].notna()]
    if not len(known):
        return
    emissivities = known["surface"].map(lambda name: given.classes[name]["emissivity"]["value"])
    row, emissivity = known.iloc[int(emissivities.argmin())], emissivities.min()
    black = float(longwave.surface_temperature(row["lw_out"], row["lw_in"], 1.0)) - ZERO_CELSIUS
    yield Question(
        f"How much would the surface temperature of {given.called(row['surface'])} change if it were taken "
        "as black "
        "(emissivity 1)? In which direction, and why?",
        f"From {number(row['surface_temperature'], 2)} °C (emissivity {emissivity:g}) to "
        f"{number(black, 2)} °C. A grey "
        "surface emits less than a black one of its temperature, and reflects a little of the sky, which "
        "by day is mostly "
        "colder than itself: taken as black, it seems colder than it is.",
        (Part("black", "surface_temperature", black),),
    )


def _balance(given: Numbers) -> Iterator[Question]:
    known = given.surfaces[given.surfaces["latent_heat"].notna() & given.surfaces["ground_heat"].notna()]
    if len(known) < 2:
        return
    wet, dry = (
        known.iloc[int(place)] for place in (known["latent_heat"].argmax(), known["latent_heat"].argmin())
    )
    yield Question(
        f"Compare the energy balance of {given.called(wet['surface'])} with that of "
        f"{given.called(dry['surface'])}. Where "
        "does the energy go? Does the balance close, and does that prove that it is right?",
        f"In W m⁻², estimated from textbook fractions: {_terms(wet, given)}; {_terms(dry, given)}. It "
        "closes by "
        "construction, because H is what remains: that proves nothing. Only a measurement of G, H or LE "
        "could.",
    )


def _terms(row: pd.Series, given: Numbers) -> str:
    net, sensible, latent, ground = (
        number(row[name], 0) for name in ("net_radiation", "sensible_heat", "latent_heat", "ground_heat")
    )
    return f"{given.called(row['surface'])}: Q* {net} = H {sensible} + LE {latent} + G {ground}"


def sample_to_follow(worked: pd.DataFrame, segmented: Mapping[str, pd.DataFrame], excluding: set[str]):
    """A few samples of the segment that the report works out. segmented: samples by set."""
    rows = worked.loc[worked["part"] == "segment", ["set", "item"]]
    if not len(rows):
        return pd.DataFrame({"sw_in": [], "sw_out": []})
    frame = segmented[rows["set"].iloc[0]]
    own = frame[frame["segment"] == rows["item"].iloc[0]]
    return followed(own, has_any(own["flags"], excluding))


def followed(samples: pd.DataFrame, excluded, count: int = FOLLOWED) -> pd.DataFrame:
    """A few samples, evenly over those that count. excluded: a truth value a sample."""
    good = samples[[not out for out in excluded]]
    some = min(count, len(good))
    return good.iloc[[round(i * (len(good) - 1) / max(some - 1, 1)) for i in range(some)]]


def label(place: int, part: int) -> str:
    """How the sheet names a number: `3b` is the second of question 3. Both count from 0."""
    return f"{place + 1}{'abcdefghijklmnopqrstuvwxyz'[part % 26]}"


def numbered(made: Sequence[Question], with_answers: bool) -> list[dict]:
    """The questions for a page. with_answers: false for the sheet, whose rows then hold none."""
    return [
        {
            "question": one.question,
            "answer": one.answer if with_answers else "",
            "parts": [(label(place, n), part.name) for n, part in enumerate(one.parts)],
        }
        for place, one in enumerate(made)
    ]


def key(made: Sequence[Question]) -> pd.DataFrame:
    """The numbers that the sheet asks for: question (such as 3b), name, quantity and value in the quantity's
    own unit."""
    rows = [
        {"question": label(place, n), **part._asdict()}
        for place, one in enumerate(made)
        for n, part in enumerate(one.parts)
    ]
    return pd.DataFrame(rows, columns=["question", *Part._fields])
