"""Step 9, first part: what the steps found and what they could not tell, in words."""

from __future__ import annotations

from collections.abc import Sequence

import pandas as pd

from headland.base import findings
from headland.base import untold as reasons_of
from headland.base.findings import Finding
from headland.base.frames import Made
from headland.files import tables


def run(
    found: Sequence[tuple[str, Finding]],
    unknown: pd.DataFrame,
    sentences: pd.DataFrame,
    reasons: pd.DataFrame,
) -> Made:
    """Findings and checks that could not be made, in words.

    found: findings with their steps, in the order of the chain. unknown: checks that could not be made, of all steps.
    sentences, reasons: findings.csv and untold.csv. Makes `checks` and `untold`.
    """
    words = findings.sentences(sentences)
    rows = findings.in_order(findings.describe(one, step, words) for step, one in findings.folded(found))
    names = [field["name"] for field in tables.schema("checks")["fields"]]
    # several steps may read one table and find the same fault: one row is enough
    place = [name for name in names if name != "step"]
    checks = pd.DataFrame(rows, columns=names).drop_duplicates(subset=place, keep="first")
    told = reasons_of.described(unknown, [one for _, one in found], reasons.to_dict("records"))
    return Made({"checks": checks, "untold": told}, [], [])
