"""The thirty lines of a course notebook: means per noted walk, no checks, no intervals, no report.

It is called with a campaign folder like the demo's.

With a folder as a second word: and the two pictures that it would show, the components against time and net
radiation of the surfaces.
"""

import sys
from pathlib import Path

import pandas as pd
import yaml

folder = Path(sys.argv[1])
settings = yaml.safe_load((folder / "campaign.yaml").read_text())
factors = (
    pd.read_csv(folder / "instruments.csv")
    .sort_values("certificate_date")
    .groupby(["set", "channel"])["factor"]
    .last()
)
notes = pd.read_csv(folder / "notes.csv")
rows = []
for name, entry in settings["sets"].items():
    comma = entry["layout"] == "comma-clock"
    names = ["time", "sw_in", "sw_out", "lw_in", "lw_out", "body", "supply"]
    parts = []
    for file in sorted(folder.glob(entry["files"])):
        part = pd.read_csv(
            file,
            skiprows=4 if comma else 3,
            sep="," if comma else ";",
            decimal="." if comma else ",",
            header=None,
        )
        if not comma:
            part[1] = pd.to_datetime(part[0] + " " + part[1], format="%d.%m.%Y %H:%M:%S")
            part = part.drop(columns=0)
        parts.append(part.set_axis(names, axis=1))
    data = pd.concat(parts).dropna()
    data["time"] = pd.to_datetime(data["time"]) - pd.Timedelta(hours=float(entry["utc_offset"][:3]))
    for channel in names[1:5] if comma else ():  # the other logger multiplies by itself
        data[channel] = data[channel] * factors[name, channel]
    for channel in ("lw_in", "lw_out"):
        data[channel] += 5.67e-8 * (data["body"] + 273.15) ** 4
    for _, note in notes[(notes["set"] == name) & notes["end"].notna()].iterrows():
        start, end = (
            pd.Timestamp(f"{note['date']} {note[at]}", tz=settings["notes"]["timezone"])
            .tz_convert("UTC")
            .tz_localize(None)
            for at in ("start", "end")
        )
        walk = data[(data["time"] >= start) & (data["time"] <= end)]
        net = walk["sw_in"] - walk["sw_out"] + walk["lw_in"] - walk["lw_out"]
        rows.append(
            {
                "surface": note["surface"],
                "net": net.mean(),
                "albedo": walk["sw_out"].mean() / walk["sw_in"].mean(),
            }
        )
    if sys.argv[2:]:
        data.plot(x="time", y=names[1:5], title=name).figure.savefig(Path(sys.argv[2]) / f"{name}.png")
table = pd.DataFrame(rows).groupby("surface").mean().round(2)
print(table)
if sys.argv[2:]:
    table["net"].plot.bar().figure.savefig(Path(sys.argv[2]) / "net.png")
