"""Students' wrong answers on the demo, each made by hand from the samples and visits in arithmetic written
out here, so that the package's own slips are not compared with themselves.
"""

from pathlib import Path

import numpy as np
import pandas as pd

ROOT = Path(__file__).parents[2]


def by_hand(folder: Path, two_slips: dict[str, str]) -> pd.DataFrame:
    """Wrong answers for every surface, made as a student would, from the samples alone, in arithmetic written
    out here: code, surface, quantity, value.

    two_slips: by surface, the quantity in which two slips are made at once.
    """
    sigma, rows, frames = 5.670374e-8, [], []
    segments = (
        pd.read_csv(folder / "segments.csv").query("activity in ('walk', 'stand')").set_index("segment")
    )
    for name in ("curlew", "lapwing"):
        frame = pd.read_csv(
            folder / "steps/5_segment" / f"{name}.csv",
            keep_default_na=False,
            na_values={c: [""] for c in ("sw_in", "sw_out")},
        )
        frame = frame.join(
            pd.read_csv(folder / "steps/2_calibrate" / f"{name}.csv")[["lw_in_net", "lw_out_net"]]
        )
        frames.append(frame[frame["segment"].isin(segments.index)].assign(set=name))
    every = pd.concat(frames, ignore_index=True)
    every["surface"] = every["segment"].map(segments["surface"])
    weather = pd.read_csv(ROOT / "demo_inputs" / "weather.csv")
    every["air"] = np.interp(
        pd.to_datetime(every["time_utc"]).astype("int64"),
        pd.to_datetime(weather["time_utc"]).astype("int64"),
        weather["air_temperature"],
    )
    every["emission"] = sigma * (every["body_temperature"] + 273.15) ** 4
    for surface, all_ in every.groupby("surface"):
        own = all_[~all_["flags"].str.contains("edge|missing|impossible|overlap|low-head")]
        curlew, mean = own["set"] == "curlew", own.mean(numeric_only=True)
        net = mean["sw_in"] - mean["sw_out"] + mean["lw_in"] - mean["lw_out"]
        new = 1000 / 14.99
        rows += [
            (code, surface, quantity, value)
            for code, quantity, value in (
                ("no-own-emission", "lw_in", mean["lw_in_net"]),
                ("no-own-emission", "lw_out", mean["lw_out_net"]),
                ("emission-twice", "lw_in", mean["lw_in_net"] + 2 * mean["emission"]),
                (
                    "emission-twice",
                    "surface_temperature",
                    grey(
                        mean["lw_out_net"] + 2 * mean["emission"],
                        mean["lw_in_net"] + 2 * mean["emission"],
                        surface,
                    ),
                ),
                (
                    "emission-in-one-term",
                    "net_radiation",
                    mean["sw_in"] - mean["sw_out"] + mean["lw_in_net"] - mean["lw_out"],
                ),
                (
                    "celsius-in-fourth-power",
                    "lw_out",
                    (own["lw_out_net"] + sigma * own["body_temperature"] ** 4).mean(),
                ),
                ("emissivity-one", "surface_temperature", (mean["lw_out"] / sigma) ** 0.25 - 273.15),
                ("mean-of-ratios", "albedo", (own["sw_out"] / own["sw_in"]).mean()),
                (
                    "factor-of-other-head",
                    "sw_out",
                    np.where(
                        curlew, own["sw_out"] / 65.66 * 66.89, own["sw_out"] / new * 1000 / 14.71
                    ).mean(),
                ),
                (
                    "factor-outdated",
                    "sw_out",
                    np.where(curlew, own["sw_out"], own["sw_out"] / new * 1000 / 15.17).mean(),
                ),
                (
                    "factor-inverted",
                    "sw_in",
                    np.where(curlew, own["sw_in"] / 66.89 * 1000 / 66.89, own["sw_in"]).mean(),
                ),
                ("wrong-sign", "net_radiation", -net),
                ("wrong-sign", "ground_heat", -OF_CLASS["ground_heat_fraction_day"][surface] * net),
                ("net-of-three-terms", "net_radiation", net - mean["lw_in"]),
                ("net-of-three-terms", "net_radiation", net + mean["lw_out"]),
                ("edges-included", "sw_out", all_["sw_out"].mean()),
                (
                    "ground-heat-of-another-class",
                    "ground_heat",
                    OF_CLASS["ground_heat_fraction_day"]["short_grass" if surface == "paving" else "paving"]
                    * net,
                ),
                ("ratio-upside-down", "albedo", mean["sw_in"] / mean["sw_out"]),
                ("reflected-sky-forgotten", "surface_temperature", grey(mean["lw_out"], 0.0, surface)),
                ("one-band-only", "net_radiation", mean["sw_in"] - mean["sw_out"]),
                ("one-band-only", "net_radiation", mean["lw_in"] - mean["lw_out"]),
                ("air-for-body", "lw_out", mean["lw_out_net"] + (sigma * (own["air"] + 273.15) ** 4).mean()),
                # two at once
                (
                    "emission-twice+emissivity-one",
                    "surface_temperature",
                    ((mean["lw_out_net"] + 2 * mean["emission"]) / sigma) ** 0.25 - 273.15,
                ),
                (
                    "emission-in-one-term+net-of-three-terms",
                    "net_radiation",
                    mean["sw_in"] + mean["lw_in_net"] - mean["lw_out"],
                ),
            )
            if "+" not in code or two_slips.get(surface) == quantity
        ]
    return pd.DataFrame(rows, columns=["code", "surface", "quantity", "value"])


CLASSES = pd.read_csv(ROOT / "config" / "surfaces.csv")
OF_CLASS = {
    name: CLASSES[CLASSES["property"] == name].set_index("surface")["value"].astype(float)
    for name in ("ground_heat_fraction_day", "emissivity")
}


def grey(up: float, down: float, surface: str) -> float:
    """Surface temperature in degC."""
    emissivity = OF_CLASS["emissivity"][surface]
    return ((up - (1 - emissivity) * down) / (emissivity * 5.670374e-8)) ** 0.25 - 273.15


def of_balance_by_hand(folder: Path) -> pd.DataFrame:
    """Wrong answers about the energy balance, from the visits, in arithmetic written out here."""
    rows = []
    visits = pd.read_csv(folder / "steps" / "7_balance" / "visits.csv")
    for surface, own in visits.groupby("surface"):
        share = own["weight"] / own["weight"].sum()
        net, ground = own["net_radiation"], own["fraction"] * own["net_radiation"]
        saturated = 0.6108 * np.exp(17.27 * own["air_temperature"] / (own["air_temperature"] + 237.3))
        slope = 4098.0 * saturated / (own["air_temperature"] + 237.3) ** 2

        def latent(gamma, own=own, slope=slope, net=net, ground=ground):
            if own["split"].iloc[0] == "priestley_taylor":
                return own["coefficient"] * slope / (slope + gamma) * (net - ground)
            return own["coefficient"].fillna(0.0) * (net - ground)

        right = latent(0.665e-4 * own["pressure"])
        lambda_ = 2.501e6 - 2361.0 * own["air_temperature"]
        rows += [
            ("ground-heat-forgotten", surface, "sensible_heat", (share * (net - right)).sum()),
            ("bowen-upside-down", surface, "latent_heat", (share * (net - ground - right)).sum()),
            ("day-for-hour", surface, "evaporation", (share * 86400.0 * right / lambda_).sum()),
        ]
        if own["split"].iloc[0] == "priestley_taylor":
            wrong = latent(0.665e-3 * own["pressure"])
            rows.append(("kilopascal-for-hectopascal", surface, "latent_heat", (share * wrong).sum()))
    rows = [row for row in rows if row[3] or row[0] != "day-for-hour"]
    return pd.DataFrame(rows, columns=["code", "surface", "quantity", "value"])


def of_segments_by_hand(folder: Path) -> pd.DataFrame:
    """Of lapwing's segments over paving, the reflected shortwave with the logger's old factor; of curlew's,
    the incoming shortwave where the logger's clock (UTC+1, 6 s ahead) was taken for UTC: guards counted in
    seconds, where a record without a gap lies there.
    """
    samples = pd.read_csv(folder / "steps/3_correct_longwave/curlew.csv", parse_dates=["time_utc"])
    seconds = samples["time_utc"].map(lambda t: t.timestamp()) + 3600 - 0.5 - 6
    yard = pd.read_csv(folder / "segments.csv").query("set == 'lapwing' and surface == 'paving'")
    rows = [
        ("factor-outdated", name, "sw_out", value * 14.99 / 15.17)
        for name, value in zip(yard["segment"], yard["sw_out_by_hand"], strict=True)
    ]
    for row in (
        pd.read_csv(folder / "segments.csv", parse_dates=["start_utc", "end_utc"])
        .query("set == 'curlew' and activity == 'walk'")
        .to_dict("records")
    ):
        start, end = row["start_utc"].timestamp(), row["end_utc"].timestamp()
        guard = 3 * 1.5 / 0.85
        inside = samples[(seconds >= start + guard + 12) & (seconds < end - guard)]
        if len(inside) > 0.97 * (end - start - 2 * guard - 12):
            rows.append(("local-time-as-utc", row["segment"], "sw_in", inside["sw_in"].mean()))
    return pd.DataFrame(rows, columns=["code", "segment", "quantity", "value"])
