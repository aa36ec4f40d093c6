"""Step 9, first part: what the steps found and what they could not tell, in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import pandas as pd

from headland.base import findings, untold
from headland.base.findings import Finding
from headland.base.frames import Made
from headland.files import options, step
from headland.files.schemas import table_schema

READS = {
    "sentences": options.SENTENCES,
    "reasons": options.ROWS,
    "findings": options.FINDINGS_OF_STEPS,
    "unknown": step.together("untold"),
}
WRITES = {"checks": "checks", "untold": "untold"}


def run(
    found: Sequence[tuple[str, Finding]],
    unknown: pd.DataFrame,
    sentences: Mapping[tuple[str, str], Mapping[str, str]],
    reasons: Sequence[Mapping[str, str]],
) -> Made:
    """Findings and checks that could not be made, in words.

    found: findings with their steps, in the order of the chain. unknown: checks that could not be made, of
    all steps. sentences: rows of findings.csv by code and variant. reasons: rows of untold.csv. Makes
    `checks` and `untold`.
    """
    rows = findings.in_order(
        findings.describe(one, step, sentences) for step, one in findings.gathered(findings.folded(found))
    )
    names = [field["name"] for field in table_schema("checks")["fields"]]
    # several steps may read one table and find the same fault: one row is enough
    place = [name for name in names if name != "step"]
    checks = pd.DataFrame(rows, columns=names).drop_duplicates(subset=place, keep="first")
    told = untold.described(unknown, [one for _, one in found], reasons)
    return Made({"checks": checks, "untold": told}, [], [])
