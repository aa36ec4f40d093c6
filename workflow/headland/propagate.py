"""Step 8: from the errors of certificates, thermometers, tables and ground to the interval of every number.

Linear propagation (JCGM 100:2008, equations 10 and 13) with shared errors: each error that could have had another value is
one `Source` with its standard uncertainty, and the measurement model is run with it moved up and down by that much. Half the change
is its contribution to every number at once, so what two numbers share cancels in their difference by itself.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd
from scipy.special import stdtrit

from headland import balance, summarise
from headland.calibrate import RADIATION
from headland.constants import ZERO_CELSIUS
from headland.correct_longwave import own_emission
from headland.findings import Finding
from headland.summarise import GROUPINGS

COVERAGE = 0.95
NORMAL_95 = 1.959964
"""Coverage factor of a normal distribution for 95 % (JCGM 100:2008, table G.1: 1.960)."""

FEWEST_LOOKS = 5.0
"""Independent looks at the ground below which no interval is given for what stands for a whole field (methods of this project)."""

MEASURED = ("sw_in", "sw_out", "albedo", "lw_in", "lw_out", "surface_temperature", "net_radiation")
SKY = ("sw_in", "lw_in")
"""Quantities of the sky: the ground not walked has no part in them."""
QUANTITIES = (*MEASURED, "net_radiation_common_sky", *balance.ESTIMATED)
COMPARED = ("albedo", "surface_temperature", "net_radiation", "net_radiation_common_sky")


@dataclass(frozen=True)
class Source:
    """One error that could have had another value.

    term: its row in uncertainty.csv. unit: what shares it, such as `curlew/sw_in`. shift: the errors it makes when moved by one
    standard uncertainty, as {name of an error of the model: array over segments, or over groups}.
    """

    term: str
    unit: str
    shift: Mapping[str, np.ndarray]


def standard_uncertainty(distribution: str, size: float) -> float:
    """Standard uncertainty of a normal term (size is 1 sigma) or a rectangular one (size is the half width): a / sqrt 3 (JCGM 100:2008, 4.3.7)."""
    match distribution:
        case "normal":
            return size
        case "rectangular":
            return size / math.sqrt(3.0)
    raise ValueError(f"unknown distribution: {distribution}")


def measured(segments: pd.DataFrame, errors: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    """The seven measured quantities of each segment, had the instruments erred by `errors`.

    segments: means of step 6 with a column `emissivity`. errors, each an array over segments, absent ones 0: `factor_<channel>`
    (relative), `zero_<channel>` and `noise_<channel>` (W m-2), `body` and `body_gradient` (K), `emissivity`.
    """
    none = np.zeros(len(segments))
    error = lambda name: errors.get(name, none)
    column = lambda name: segments[name].to_numpy(float)
    flux = {}
    for channel in ("sw_in", "sw_out"):
        scale, offset = 1.0 + error(f"factor_{channel}"), error(f"zero_{channel}") + error(f"noise_{channel}")
        flux[channel] = column(channel) * scale + offset
    body = column("body_temperature") + ZERO_CELSIUS
    for channel in ("lw_in", "lw_out"):
        warmer = error("body") + (error("body_gradient") if channel == "lw_in" else none)
        change = own_emission(body + warmer) - own_emission(body)
        flux[channel] = column(channel) + column(f"{channel}_net") * error(f"factor_{channel}") + change + error(f"noise_{channel}")
    with np.errstate(invalid="ignore", divide="ignore"):
        # the sums behind the albedo move like the means: sample by sample the errors are the same
        ratio = {c: flux[c] / column(c) for c in ("sw_in", "sw_out")}
        flux["albedo_sw_in"] = np.where(column("sw_in") > 0, column("albedo_sw_in") * ratio["sw_in"], np.nan)
        flux["albedo_sw_out"] = np.where(column("sw_out") > 0, column("albedo_sw_out") * ratio["sw_out"], np.nan)
        flux["albedo"] = np.where(column("albedo_sw_in") > 0, flux["albedo_sw_out"] / flux["albedo_sw_in"], np.nan)
    flux["net_radiation"] = summarise.net_radiation(*(flux[c] for c in RADIATION))
    emissivity = column("emissivity") + error("emissivity")
    flux["surface_temperature"] = summarise.surface_temperature(flux["lw_out"], flux["lw_in"], emissivity) - ZERO_CELSIUS
    return flux


def grouped(segments: pd.DataFrame, groups: pd.DataFrame, members: np.ndarray, sky: np.ndarray, errors: Mapping[str, np.ndarray],
            estimate: Callable) -> dict[str, np.ndarray]:
    """Every quantity of each group (a field or a surface), had the instruments, the tables and the ground differed by `errors`.

    members: weights of the segments in each group (groups x segments, rows sum to 1). sky: weights of the segments in the common
    sky. errors: those of `measured`, and over groups `ground_sw_out`, `ground_lw_out` (W m-2), `emissivity_group`,
    `sky_response`, `ground_heat_fraction`, `latent_heat_fraction`. estimate: the energy balance of the groups from (net radiation, the two
    fractions' errors), as {quantity: array}.
    """
    none = np.zeros(len(groups))
    error = lambda name: errors.get(name, none)
    flux = measured(segments, errors)
    result = {name: _mean(members, flux[name]) for name in RADIATION}
    result["sw_out"] = result["sw_out"] + error("ground_sw_out")
    result["lw_out"] = result["lw_out"] + error("ground_lw_out")
    inside = (members > 0).astype(float)
    total = {name: inside @ np.nan_to_num(flux[name]) for name in ("albedo_sw_in", "albedo_sw_out")}
    seconds = inside @ segments["weight"].to_numpy(float)
    with np.errstate(invalid="ignore", divide="ignore"):
        result["albedo"] = np.where(total["albedo_sw_in"] > 0, (total["albedo_sw_out"] + error("ground_sw_out") * seconds) / total["albedo_sw_in"], np.nan)
    result["net_radiation"] = summarise.net_radiation(*(result[c] for c in RADIATION))
    emissivity = groups["emissivity"].to_numpy(float) + error("emissivity_group")
    result["surface_temperature"] = summarise.surface_temperature(result["lw_out"], result["lw_in"], emissivity) - ZERO_CELSIUS
    reference = [float(_mean(sky[None, :], flux[name])[0]) for name in SKY]
    response = groups["sky_response"].to_numpy(float) + error("sky_response")
    result["net_radiation_common_sky"] = summarise.net_common_sky(
        result["net_radiation"], result["albedo"], result["sw_in"], result["lw_in"], *reference, emissivity, response)
    return result | estimate(result["net_radiation"], error("ground_heat_fraction"), error("latent_heat_fraction"))


def _mean(weights: np.ndarray, values: np.ndarray) -> np.ndarray:
    """Weighted means over segments, one a row of weights; a segment without a value counts for nothing."""
    known = np.isfinite(values)
    total = weights @ known
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(total > 0, (weights @ np.where(known, values, 0.0)) / total, np.nan)


def ground_standard_errors(groups: pd.DataFrame) -> tuple[np.ndarray, np.ndarray]:
    """Standard errors of SW_out and LW_out of each group by the ground not walked, W m-2, widened by Student's t.

    s / sqrt(n), times t(n - 1) / 1.96 so that a normal interval covers as Student's does (n is small). Infinite with fewer than
    5 independent looks: then no interval is given.
    """
    looks = groups["independent"].to_numpy(float)
    enough = looks >= FEWEST_LOOKS
    number = np.where(enough, looks, FEWEST_LOOKS)
    factor = stdtrit(number - 1.0, 0.5 + COVERAGE / 2.0) / NORMAL_95 / np.sqrt(number)
    return tuple(np.where(enough, groups[name].to_numpy(float) * factor, np.inf) for name in ("ground_sw_out", "ground_lw_out"))


def instrument_sources(segments: pd.DataFrame, certificates: pd.DataFrame, terms: Mapping[str, Mapping]) -> list[Source]:
    """The errors that the instruments bring, each shared by a band, a sensor or a set, and the noise of each segment.

    certificates: those in force, all sets. terms: rows of uncertainty.csv by term.
    """
    sources = []
    on = lambda term: terms[term]["enabled"] == "true"
    u = lambda term: standard_uncertainty(terms[term]["distribution"], float(terms[term]["size"]))
    sets = segments["set"].to_numpy()
    for band in ("sw", "lw"):
        shift = {}
        for row in certificates[certificates["channel"].str.startswith(band)].to_dict("records"):
            channel, mine = row["channel"], (sets == row["set"]).astype(float)
            percent = row["expanded_uncertainty_percent"]
            unit = f"{row['set']}/{channel}"
            if percent == percent:
                u_band, u_sensor = (percent / 200.0 * math.sqrt(float(terms[t]["size"])) for t in ("certificate_band", "certificate_sensor"))
            else:
                u_band, u_sensor = (u(f"certificate_default_{t}_{band}") / 100.0 for t in ("band", "sensor"))
            name = f"factor_{channel}"
            shift[name] = shift.get(name, 0.0) + mine * u_band
            if on("certificate_sensor"):
                sources.append(Source("certificate_sensor", unit, {name: mine * u_sensor}))
            age = row["age_months"] / 12.0 if row["age_months"] == row["age_months"] else 0.0
            if on(f"drift_{band}") and age > 0:
                sources.append(Source(f"drift_{band}", unit, {name: mine * u(f"drift_{band}") / 100.0 * age}))
            if band == "sw" and on("zero_sw"):
                sources.append(Source("zero_sw", unit, {f"zero_{channel}": mine * u("zero_sw")}))
        if on("certificate_band") and shift:
            sources.append(Source("certificate_band", band, shift))
    for name in dict.fromkeys(sets):
        mine = (sets == name).astype(float)
        if on("body_temperature"):
            sources.append(Source("body_temperature", name, {"body": mine * u("body_temperature")}))
        if on("body_temperature_gradient"):
            sources.append(Source("body_temperature_gradient", name, {"body_gradient": mine * u("body_temperature_gradient")}))
    if on("noise"):
        for index, segment in enumerate(segments["segment"]):
            for channel in RADIATION:
                one = np.zeros(len(segments))
                one[index] = segments[f"noise_{channel}"].iloc[index]
                if one[index] > 0:
                    sources.append(Source("noise", f"{segment}/{channel}", {f"noise_{channel}": one}))
    return sources


def table_sources(segments: pd.DataFrame, groups: pd.DataFrame, surfaces: Mapping[str, Mapping], terms: Mapping[str, Mapping]) -> list[Source]:
    """The errors that the tables of surface classes bring, each shared by a class. Ranges are rectangular."""
    sources = []
    for name in dict.fromkeys([*segments["surface"], *groups["surface"]]):
        entry = surfaces.get(name)
        if entry is None:
            continue
        of_segments = (segments["surface"] == name).to_numpy(float)
        of_groups = (groups["surface"] == name).to_numpy(float)

        def width(key: str) -> float:
            low, high = (entry.get(key, {}).get(end, "") for end in ("low", "high"))
            return standard_uncertainty("rectangular", (high - low) / 2.0) if isinstance(low, float) and isinstance(high, float) else 0.0

        fraction = balance.SPLIT_PROPERTY.get(entry["latent_method"]["value"], "")
        day = groups["day"].to_numpy(bool)
        fractions = np.where(day, width("ground_heat_fraction_day"), width("ground_heat_fraction_night"))
        for term, shift in {
            "emissivity": {"emissivity": of_segments * width("emissivity"), "emissivity_group": of_groups * width("emissivity")},
            "sky_response": {"sky_response": of_groups * width("sky_response")},
            "ground_heat_fraction": {"ground_heat_fraction": of_groups * fractions},
            "latent_heat_fraction": {"latent_heat_fraction": of_groups * (width(fraction) if fraction else 0.0)},
        }.items():
            if terms[term]["enabled"] == "true" and any(np.any(values) for values in shift.values()):
                sources.append(Source(term, name, shift))
    return sources


def ground_sources(groups: pd.DataFrame, terms: Mapping[str, Mapping]) -> list[Source]:
    """The error by the ground not walked, each group's own: its SW_out and LW_out move together as their residuals do."""
    if terms["ground"]["enabled"] != "true":
        return []
    sources = []
    shortwave, longwave = ground_standard_errors(groups)
    correlation = groups["ground_correlation"].to_numpy(float)
    for index in range(len(groups)):
        one = np.zeros(len(groups))
        one[index] = 1.0
        if not math.isfinite(shortwave[index]):
            continue
        rho = correlation[index]
        name = "/".join(str(groups[column].iloc[index]) for column in ("surface", "field") if column in groups)
        sources.append(Source("ground", f"{name}/shared", {"ground_sw_out": one * shortwave[index], "ground_lw_out": one * rho * longwave[index]}))
        sources.append(Source("ground", f"{name}/lw_out", {"ground_lw_out": one * math.sqrt(1.0 - rho**2) * longwave[index]}))
    return sources


def contributions(model: Callable[[Mapping[str, np.ndarray]], dict[str, np.ndarray]], sources: Sequence[Source]) -> dict[str, np.ndarray]:
    """What each source contributes to each number of a model, as {quantity: sources x numbers}.

    Half the difference between the model with the source moved up and down by one standard uncertainty (JCGM 100:2008, 5.1.3, note 2).
    """
    names = list(model({}))
    rows: dict[str, list] = {name: [] for name in names}
    for source in sources:
        up = model(source.shift)
        down = model({name: -values for name, values in source.shift.items()})
        for name in names:
            rows[name].append((up[name] - down[name]) / 2.0)
    size = len(next(iter(model({}).values())))
    return {name: np.array(values).reshape(len(sources), size) for name, values in rows.items()}


def half_width(parts: np.ndarray) -> np.ndarray:
    """Half width of the 95 % interval from independent contributions along the first axis: 1.96 sqrt(sum u^2) (JCGM 100:2008, eq. 10)."""
    return NORMAL_95 * np.sqrt(np.sum(parts**2, axis=0))


def with_intervals(values: Mapping[str, np.ndarray], parts: Mapping[str, np.ndarray], unknown: np.ndarray | None = None) -> pd.DataFrame:
    """Columns Q, Q_low, Q_high of each quantity. unknown: groups whose ground can't be known, which get no interval but for the sky's own terms."""
    columns = {}
    for name, value in values.items():
        half = half_width(parts[name])
        if unknown is not None and name not in SKY:
            half = np.where(unknown, np.nan, half)
        columns |= {name: value, f"{name}_low": value - half, f"{name}_high": value + half}
    return pd.DataFrame(columns)


def differences(groups: pd.DataFrame, values: Mapping[str, np.ndarray], parts: Mapping[str, np.ndarray], unknown: np.ndarray) -> pd.DataFrame:
    """One row a pair of surfaces and quantity, with the interval of the difference, in which shared errors cancel."""
    records = []
    for a in range(len(groups)):
        for b in range(a + 1, len(groups)):
            for name in COMPARED:
                difference = values[name][a] - values[name][b]
                half = math.nan if unknown[a] or unknown[b] else float(half_width(parts[name][:, a] - parts[name][:, b]))
                records.append({"surface_a": groups["surface"].iloc[a], "surface_b": groups["surface"].iloc[b], "quantity": name,
                                "difference": difference, "difference_low": difference - half, "difference_high": difference + half,
                                "distinguishable": bool(abs(difference) > half) if half == half and difference == difference else None})
    return pd.DataFrame(records, columns=["surface_a", "surface_b", "quantity", "difference", "difference_low", "difference_high", "distinguishable"])


def budget(groups: pd.DataFrame, parts: Mapping[str, np.ndarray], sources: Sequence[Source], terms: Mapping[str, Mapping]) -> pd.DataFrame:
    """One row a surface, quantity and source: half width from this source alone, and its share of the variance (shares add up to 1)."""
    labels = [terms[source.term]["label"] for source in sources]
    records = []
    for index, surface in enumerate(groups["surface"]):
        for name, matrix in parts.items():
            variance = matrix[:, index] ** 2
            total = variance.sum()
            if not total > 0:
                continue
            by_label: dict[str, float] = {}
            for label, value in zip(labels, variance):
                by_label[label] = by_label.get(label, 0.0) + value
            for label, value in sorted(by_label.items(), key=lambda item: -item[1]):
                if value / total > 1e-15:          # what is left of rounding where a source has no part is no source
                    records.append({"surface": surface, "quantity": name, "source": label,
                                    "half_width_95": NORMAL_95 * math.sqrt(value), "share": value / total})
    return pd.DataFrame(records, columns=["surface", "quantity", "source", "half_width_95", "share"])


@dataclass(frozen=True)
class Result:
    """What users get from step 8, as frames, with the number of sources and the findings."""

    segments: pd.DataFrame
    fields: pd.DataFrame
    surfaces: pd.DataFrame
    differences: pd.DataFrame
    budget: pd.DataFrame
    sources: int
    findings: list[Finding]


def propagate(segments: pd.DataFrame, means: Mapping[str, pd.DataFrame], balances: Mapping[str, pd.DataFrame], certificates: pd.DataFrame,
              surfaces: Mapping[str, Mapping], terms: Mapping[str, Mapping]) -> Result:
    """Intervals for all that users get.

    segments: step 6's. means, balances: steps 6 and 7's of `fields` and `surfaces`. certificates: in force, all sets. surfaces: class properties.
    terms: rows of uncertainty.csv by term.
    """
    emissivity = [surfaces[s]["emissivity"]["value"] if s else 1.0 for s in segments["surface"]]
    segments = segments.assign(emissivity=np.array(emissivity, dtype=float))
    instruments = instrument_sources(segments, certificates, terms)
    own = [s for s in table_sources(segments, means["surfaces"].assign(day=True), surfaces, terms) if s.term == "emissivity"]
    parts = contributions(lambda errors: measured(segments, errors), [*instruments, *own])
    # printed values are step 6's own, so that the same number is never computed twice
    printed = with_intervals({name: segments[name].to_numpy(float) for name in MEASURED}, {name: parts[name] for name in MEASURED})
    tables = {"segments": pd.concat([segments.drop(columns=list(MEASURED)), printed], axis=1)}
    findings: list[Finding] = []
    for kind in ("fields", "surfaces"):
        group, by = _groups(means[kind], balances[kind], surfaces), GROUPINGS[kind]
        members, sky = memberships(segments, group, by)
        model = lambda errors: grouped(segments, group, members, sky, errors, lambda *args: balance.estimate(group, *args))
        sources = [*instruments, *table_sources(segments, group, surfaces, terms), *ground_sources(group, terms)]
        parts = contributions(model, sources)
        values = {name: group[name].to_numpy(float) for name in QUANTITIES}
        unknown = ~(group["independent"].to_numpy(float) >= FEWEST_LOOKS)
        printed = with_intervals(values, parts, unknown)
        tables[kind] = pd.concat([group[[*by, "segments", "samples_used"]], printed], axis=1)
        findings += [Finding("interval-unknown", facts={"group": f"The field {row['field']}" if "field" in by else f"The surface {row['surface']}", "looks": f"{row['independent']:.1f}"})
                     for row in group[unknown].to_dict("records")]
    findings = list({(f.code, f.facts["group"]): f for f in findings}.values())
    return Result(tables["segments"], tables["fields"], tables["surfaces"], differences(group, values, parts, unknown),
                  budget(group, {name: parts[name] for name in QUANTITIES}, sources, terms), len(sources), findings)


def _groups(means: pd.DataFrame, balances: pd.DataFrame, surfaces: Mapping[str, Mapping]) -> pd.DataFrame:
    """Means and energy balance of groups side by side, with the class values that the model needs."""
    keys = [column for column in ("surface", "field") if column in means]
    group = means.merge(balances, on=keys, validate="one_to_one")
    of_class = lambda key: np.array([surfaces[s][key]["value"] for s in group["surface"]], dtype=float)
    return group.assign(emissivity=of_class("emissivity"), sky_response=of_class("sky_response"), day=group["day"].astype(bool))


def memberships(segments: pd.DataFrame, group: pd.DataFrame, by: Sequence[str]) -> tuple[np.ndarray, np.ndarray]:
    """Weights of the segments in each group (rows sum to 1) and in the common sky, by their recorded time."""
    counted = segments.index.isin(summarise.counted(segments).index)
    weight = np.where(counted, segments["weight"].to_numpy(float), 0.0)
    members = np.zeros((len(group), len(segments)))
    for index, row in enumerate(group.to_dict("records")):
        inside = np.logical_and.reduce([(segments[column] == row[column]).to_numpy() for column in by])
        members[index] = np.where(inside, weight, 0.0)
    total = members.sum(axis=1, keepdims=True)
    return members / np.where(total > 0, total, 1.0), weight / (weight.sum() or 1.0)
