"""What the study of plans reports, and its page."""

from __future__ import annotations

import datetime as dt
import platform
from collections.abc import Iterable

import numpy as np
import pandas as pd
import scipy

WITHIN, KEPT = 0.20, 0.90
"""The predicted half width is that of the chain to so much; of the promised pairs, so many are told apart."""
EASY = 2
"""Passes over a surface that make a campaign that does not follow the plan: one of each set."""


def agreement(rows: pd.DataFrame) -> pd.DataFrame:
    """Predicted over reported half width in the campaigns that follow the plan, by quantity and together: how
    many, the median, the share WITHIN 20 %, and the same of each campaign's median.
    """
    followed_ = rows[rows["kind"] == "followed"]
    ratio = followed_.assign(ratio=followed_["half_width"] / followed_["found_half_width"]).dropna(
        subset="ratio"
    )

    def near(ratios):
        return float((np.abs(ratios - 1.0) <= WITHIN).mean())

    return pd.DataFrame(
        [
            {
                "quantity": name,
                "compared": len(part),
                "median": part["ratio"].median(),
                "within": near(part["ratio"]),
                "campaigns": near(part.groupby("seed")["ratio"].median()),
            }
            for name, part in (*ratio.groupby("quantity", sort=False), ("together", ratio))
        ]
    )


def told_apart(rows: pd.DataFrame) -> pd.DataFrame:
    """Share of pairs told apart, the right way round: promised ones that so few passes as without the plan
    should tell, promised ones that need more, all promised, and those not promised.
    """
    easy = rows["passes_needed"] <= EASY
    return pd.DataFrame(
        [
            {
                "pairs": name,
                "number": int((chosen & (rows["kind"] == "followed")).sum()),
                **{
                    kind: float(rows.loc[chosen & (rows["kind"] == kind), "told"].mean())
                    for kind in ("followed", "not followed")
                },
            }
            for name, chosen in (
                ("promised", rows["promised"]),
                (f"promised, {EASY} passes needed at most", rows["promised"] & easy),
                ("promised, more passes needed", rows["promised"] & ~easy),
                ("not promised", ~rows["promised"]),
            )
        ]
    )


def line(cells: Iterable[str]) -> str:
    """A row of a Markdown table."""
    return "| " + " | ".join(cells) + " |"


def page(rows: pd.DataFrame, days: int, draws: int) -> str:
    """The study's page, as Markdown, from the rows of `plans.study`."""
    one = [
        line(
            (
                r["quantity"],
                str(r["compared"]),
                f"{r['median']:.2f}",
                f"{100 * r['within']:.0f} %",
                f"{100 * r['campaigns']:.0f} %",
            )
        )
        for r in agreement(rows).to_dict("records")
    ]
    two = [
        line(
            (r["pairs"], str(r["number"]), f"{100 * r['followed']:.0f} %", f"{100 * r['not followed']:.0f} %")
        )
        for r in told_apart(rows).to_dict("records")
    ]
    return PAGE.format(
        date=dt.date.today().isoformat(),
        python=platform.python_version(),
        numpy=np.__version__,
        scipy=scipy.__version__,
        pandas=pd.__version__,
        days=days,
        draws=draws,
        within=round(100 * WITHIN),
        kept=round(100 * KEPT),
        one="\n".join(one),
        two="\n".join(two),
    )


PAGE = """# Whether plans keep their promises

Made by `PYTHONPATH=tests:workflow python -m study.plans` on {date}, with Python {python}, numpy {numpy},
scipy {scipy}, pandas {pandas}.

{days} days are drawn at random. Each has a plan of two rounds by two sets over three or four fields. On
each day two campaigns are simulated: one follows the plan; the other does not. There each set makes one
pass over each field, both one after the other (A A B B), all the same way, and the sets never stand side
by side. Sun, clear sky, heads, carriers and ground come from `tests/simulate`, which shares no formula
with the workflow. The surfaces are as warm and as bright as the plan expects, with patches of their own.
The expected differences between classes are those of the table of surfaces, or up to 30 times smaller.
The whole chain computes each campaign, with {draws} draws.

## Half widths: predicted over reported

The target is agreement within {within} %. The plan can't predict how uneven the ground is: it assumes one
size for all fields, while the simulated patches range from smooth paving to rough stubble. Single pairs
whose interval comes mostly from the ground therefore scatter more than the median.

| quantity | pairs compared | median of predicted over reported | pairs within {within} % | campaigns \
whose median is within {within} % |
|---|---|---|---|---|
{one}

## Pairs told apart

The share of pairs that the chain tells apart, in the right direction, for albedo, surface temperature and
net radiation under the common sky. The target for promised pairs, with the plan followed, is at least
{kept} %.

| pairs | number | plan followed | not followed |
|---|---|---|---|
{two}
"""
