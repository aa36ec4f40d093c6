"""Page 3: what was recorded, noted and used, and how well passes over one surface repeat."""

from __future__ import annotations

import pandas as pd

from headland.base.flags import has_any
from headland.report.cells import cell, column, table
from headland.report.given import Given
from headland.report.wording import count, listed, number, span

REPEATED = (
    ("albedo", "albedo", "", 3),
    ("surface_temperature", "surface temperature", " °C", 1),
    ("net_radiation_common_sky", "net radiation under the common sky", " W m⁻²", 0),
)
"""What the figure of passes shows: column, title, unit, decimals."""


def context(given: Given) -> dict:
    """What the third page prints."""
    counts = sample_counts(given)
    return {
        "counts": counts_table(counts),
        "used_words": used_words(counts),
        "passes_words": passes_words(given),
        "record_words": record_words(given, counts),
        "explored": [name for name, frame in given.samples.items() if len(frame)],
    }


def sample_counts(given: Given) -> pd.DataFrame:
    """From stored to used: one row a set."""
    rows = []
    for name, frame in given.samples.items():
        noted, excluded = (frame["segment"] != "").to_numpy(), given.excluded[name]
        edge = has_any(frame["flags"], {"edge"})
        rows.append(
            {
                "set": name,
                "files": len(given.settings["sets"][name]["raw"]),
                "stored": len(frame),
                "noted": int(noted.sum()),
                "edge": int((noted & excluded & edge).sum()),
                "flagged": int((noted & excluded & ~edge).sum()),
                "used": int((noted & ~excluded).sum()),
            }
        )
    return pd.DataFrame(rows, columns=["set", "files", "stored", "noted", "edge", "flagged", "used"])


def counts_table(counts: pd.DataFrame) -> dict:
    """Samples from file to mean."""
    titles = ("files", "stored", "in a noted interval", "of these at an edge", "flagged", "used")
    columns = [column("set", text=True), *(column(title) for title in titles)]
    rows = [[cell(number) for number in row] for row in counts.itertuples(index=False)]
    return table(columns, rows)


def used_words(counts: pd.DataFrame) -> str:
    """How many samples the numbers rest on."""
    stored, noted, used = (int(counts[name].sum()) for name in ("stored", "noted", "used"))
    if not stored:
        return "No sample was stored."
    return (
        f"The numbers of this report come from {used} of {count(stored, 'stored sample')}: {noted} were "
        f"stored in a noted interval, {int(counts['edge'].sum())} of these near the edge of a field or "
        f"before the heads had settled, and {int(counts['flagged'].sum())} failed a test."
    )


def record_words(given: Given, counts: pd.DataFrame) -> str:
    """The figure of the record in words."""
    parts = []
    for row in counts.to_dict("records"):
        frame = given.samples[row["set"]]
        if len(frame):
            light = span(frame["sw_in"].min(), frame["sw_in"].max(), 0)
            sky = span(frame["lw_in"].min(), frame["lw_in"].max(), 0)
            parts.append(
                f"set {row['set']}: {row['stored']} samples stored, {row['used']} used; "
                f"shortwave in {light}, longwave in {sky} W m⁻²"
            )
    return f"On one time axis: {'; '.join(parts)}." if parts else "Nothing was recorded."


def passes(given: Given) -> pd.DataFrame:
    """The passes that count, with the surface's rank."""
    means = given.means
    return means[means["surface"].isin(given.ranked["surface"]) & (means["weight"] > 0)]


def passes_words(given: Given) -> str:
    """How far passes over one surface scatter: the median over the surfaces."""
    rows, parts = passes(given), []
    for name, title, unit, decimals in REPEATED:
        known = rows[rows[name].notna()].groupby("surface")[name]
        spread = known.std(ddof=1)[known.size() > 1]
        if len(spread):
            parts.append(f"{number(float(spread.median()), decimals)}{unit} in {title}")
    if not parts:
        return "No surface was passed twice, so nothing is known of how well passes repeat."
    return f"Passes over one surface scatter by {listed(parts)} (standard deviation, median of the surfaces)."
