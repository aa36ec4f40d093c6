"""Questions made from a campaign's own numbers, each with its answer. The sheet prints the first, the key both."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import pandas as pd

from headland.chain import summarise
from headland.chain.correct_longwave import own_emission
from headland.physics.constants import ZERO_CELSIUS
from headland.report.wording import interval, listed, number

COMPARED = "net_radiation_common_sky"


def questions(
    surfaces: pd.DataFrame,
    differences: pd.DataFrame,
    worked: pd.DataFrame,
    samples: pd.DataFrame,
    classes: Mapping[str, Mapping],
) -> list[dict[str, str]]:
    """Every question that the campaign has numbers for: mappings of `question` and `answer`.

    surfaces, differences: tables that users get. worked: rows of worked.json. samples: a few samples (sw_in, sw_out, W m-2) of one segment. classes: class properties.
    """
    called = lambda name: classes[name]["label"]["value"]
    made = [
        *_gains(surfaces, called),
        *_missed_correction(surfaces, worked, called),
        *_hard_to_tell(surfaces, differences, called),
        *_ratio_of_sums(samples),
        *_by_hand(worked),
        *_black(surfaces, called, classes),
        *_balance(surfaces, called),
    ]
    return [{"question": question, "answer": answer} for question, answer in made]


def _gains(surfaces: pd.DataFrame, called):
    known = surfaces[surfaces[COMPARED].notna()].sort_values(COMPARED)
    if len(known) < 2:
        return
    least, most = known.iloc[0], known.iloc[-1]
    words = lambda row: (
        f"{called(row['surface'])}: {number(row[COMPARED], 0)} {interval(row[COMPARED + '_low'], row[COMPARED + '_high'], 0)} W m⁻², albedo {number(row['albedo'], 3)}, "
        f"{number(row['surface_temperature'], 1)} °C"
    )
    yield (
        "Under one common sky, which surface gains most net radiation, and which least? Two of the four terms are the surface's own doing: which, and which of them decides here?",
        f"Most: {words(most)}. Least: {words(least)}. A surface can only change what it reflects (albedo) and what it emits (surface temperature); "
        f"what comes from the sky is the same for both. {_deciding(least, most)}",
    )


def _deciding(least: pd.Series, most: pd.Series) -> str:
    reflected = (least["albedo"] - most["albedo"]) * (least["sw_in"] + most["sw_in"]) / 2.0
    emitted = own_emission(least["surface_temperature"] + ZERO_CELSIUS) - own_emission(
        most["surface_temperature"] + ZERO_CELSIUS
    )
    if not math.isfinite(reflected):
        return ""
    return f"Between these two the albedo makes about {number(reflected, 0)} W m⁻² and the temperature about {number(float(emitted), 0)} W m⁻²."


def _missed_correction(surfaces: pd.DataFrame, worked: pd.DataFrame, called):
    own = worked[worked["part"] == "sample"].drop_duplicates("key").set_index("key")["value"]
    if not len(surfaces) or not {"calibrate.lw_in_net", "calibrate.lw_out_net"} <= set(own.index):
        return
    incoming, outgoing = own["calibrate.lw_in_net"], own["calibrate.lw_out_net"]
    yield (
        "Somebody forgets to give both longwave heads their own emission back. Why does net radiation not reveal it? Which numbers do?",
        f"With one thermometer for both heads the same σT⁴ is missing in both terms and cancels in their difference: {number(incoming, 1)} − ({number(outgoing, 1)}) = {number(incoming - outgoing, 1)} W m⁻², "
        "as with the correction. The two terms alone and the surface temperature reveal it: no sky or surface sends out a few W m⁻², or less than nothing.",
    )


def _hard_to_tell(surfaces: pd.DataFrame, differences: pd.DataFrame, called):
    rows = differences[
        (differences["quantity"] == COMPARED)
        & differences["difference"].notna()
        & differences["difference_low"].notna()
    ]
    if not len(rows):
        return
    row = rows.loc[rows["difference"].abs().idxmin()]
    a, b = called(row["surface_a"]), called(row["surface_b"])
    sw_in = surfaces.set_index("surface").loc[[row["surface_a"], row["surface_b"]], "sw_in"].mean()
    told = row["distinguishable"] is True or row["distinguishable"] == 1
    yield (
        f"The two surfaces that lie closest together are {a} and {b}. Can they be told apart? Suppose one of them had been walked with a set whose upward shortwave head has a factor that is off: "
        "how well would you have to know that factor for its error to stay below the difference?",
        f"The difference is {number(row['difference'], 1)} {interval(row['difference_low'], row['difference_high'], 1)} W m⁻² under the common sky: {'yes, zero lies outside' if told else 'no, zero lies inside'}. "
        f"An error r of the factor changes net radiation by r × SW in, here about {number(sw_in, 0)} W m⁻²; so r must stay below {number(abs(row['difference']), 1)} / {number(sw_in, 0)} = "
        f"{number(100.0 * abs(row['difference']) / sw_in, 2)} %. Certificates rarely promise that, which is why a difference measured with one set is worth more than two values measured with two.",
    )


def _ratio_of_sums(samples: pd.DataFrame):
    good = samples[samples["sw_in"] > summarise.ALBEDO_SW_IN]
    if len(good) < 2:
        return
    pairs = listed([f"{number(r['sw_in'], 1)} and {number(r['sw_out'], 1)}" for r in good.to_dict("records")])
    right, wrong = (
        float(summarise.albedo(good["sw_in"], good["sw_out"])),
        float((good["sw_out"] / good["sw_in"]).mean()),
    )
    yield (
        f"Some samples of one walk, SW in and SW out in W m⁻²: {pairs}. What is the albedo of the walk? What comes out if you average the ratios instead, and under which sky would the two differ much?",
        f"Ratio of sums: {number(right, 4)}. Mean of ratios: {number(wrong, 4)}. They differ where SW in changes much from sample to sample while the ground changes too, or where dim samples carry an offset: under broken cloud.",
    )


def _by_hand(worked: pd.DataFrame):
    for _, rows in worked[worked["part"] == "sample"].groupby("set", sort=False):
        stored = rows[
            rows["meaning"].isin(
                [
                    f"{name} as logged"
                    for name in ("shortwave in", "shortwave out", "longwave in", "longwave out")
                ]
                + ["body temperature"]
            )
        ]
        factors = rows[rows["meaning"].str.startswith("factor of")]
        # digits as a logger has them; the key is computed with them all
        of = listed(
            [
                f"{r['meaning']} {number(r['value'], 2 if r['unit'] in ('W m-2', 'degC') else 4)} {r['unit'].replace('degC', '°C').replace('W m-2', 'W m⁻²')}"
                for r in stored.to_dict("records")
            ]
        )
        by = listed(
            [
                f"{r['meaning'].removeprefix('factor of ')} {number(r['value'], 2)}"
                for r in factors.to_dict("records")
            ]
        )
        answer = "; ".join(
            f"{r['meaning']} {number(r['value'], 2)}"
            for r in rows[rows["key"] != ""].to_dict("records")
            if r["unit"] == "W m-2"
        )
        yield (
            f"Work one sample of set {rows['set'].iloc[0]} out by hand: {of}"
            + (f". Factors in W m⁻² per mV: {by}" if len(factors) else "")
            + ". What are the four terms, and what is net radiation?",
            f"In W m⁻²: {answer}. The appendix of the report shows each step.",
        )


def _black(surfaces: pd.DataFrame, called, classes: Mapping[str, Mapping]):
    known = surfaces[surfaces["surface_temperature"].notna()]
    if not len(known):
        return
    emissivities = known["surface"].map(lambda name: classes[name]["emissivity"]["value"])
    row, emissivity = known.loc[emissivities.idxmin()], emissivities.min()
    black = float(summarise.surface_temperature(row["lw_out"], row["lw_in"], 1.0)) - ZERO_CELSIUS
    yield (
        f"How much would the surface temperature of {called(row['surface'])} change if it were taken as black (emissivity 1)? In which direction, and why?",
        f"From {number(row['surface_temperature'], 2)} °C (emissivity {emissivity:g}) to {number(black, 2)} °C. A grey surface emits less than a black one of its temperature, and reflects a little of the sky, "
        "which by day is mostly colder than itself: read as black, it seems colder than it is.",
    )


def _balance(surfaces: pd.DataFrame, called):
    known = surfaces[surfaces["latent_heat"].notna() & surfaces["ground_heat"].notna()]
    if len(known) < 2:
        return
    wet, dry = known.loc[known["latent_heat"].idxmax()], known.loc[known["latent_heat"].idxmin()]
    words = lambda r: (
        f"{called(r['surface'])}: Q* {number(r['net_radiation'], 0)} = H {number(r['sensible_heat'], 0)} + LE {number(r['latent_heat'], 0)} + G {number(r['ground_heat'], 0)}"
    )
    yield (
        f"Compare the energy balance of {called(wet['surface'])} with that of {called(dry['surface'])}. Where does the energy go? Does the balance close, and is that a proof that it is right?",
        f"In W m⁻², estimated from textbook fractions: {words(wet)}; {words(dry)}. It closes by construction, because H is what remains: that proves nothing. Only a measurement of G, H or LE could.",
    )


def followed(samples: pd.DataFrame, excluded, count: int = 4) -> pd.DataFrame:
    """A few samples, evenly over those that count. excluded: a truth value a sample."""
    good = samples[[not out for out in excluded]]
    return good.iloc[[round(i * (len(good) - 1) / max(count - 1, 1)) for i in range(min(count, len(good)))]]


def numbered(made: Sequence[Mapping[str, str]], with_answers: bool) -> list[dict[str, str]]:
    """The questions for a page. with_answers: false for the sheet, whose rows then hold none."""
    return [{"question": row["question"], "answer": row["answer"] if with_answers else ""} for row in made]
