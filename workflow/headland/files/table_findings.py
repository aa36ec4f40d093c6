"""What is found wrong in the cells of a table: the first of each kind, and how many more there are."""

from __future__ import annotations

from dataclasses import dataclass, field

from headland.base.findings import Finding

MOST_ALIKE = 1000
"""Findings of one kind and column of a table that are listed; what is beyond is counted."""


@dataclass
class Kept:
    """Findings of the cells of one table."""

    listed: list[Finding] = field(default_factory=list)
    counts: dict[tuple[str, str], list[int]] = field(default_factory=dict)
    """By code and column: how many were found, and the first and the last line that is not listed."""

    def add(self, finding: Finding) -> None:
        """One more finding, which has a line."""
        line = finding.line or 0
        known = self.counts.setdefault((finding.code, str(finding.facts.get("column", ""))), [0, 0, 0])
        known[0] += 1
        if known[0] <= MOST_ALIKE:
            self.listed.append(finding)
        else:
            known[1:] = [known[1] or line, line]

    def all(self, file: str) -> list[Finding]:
        """The findings that are listed, and one for each kind of which there are more. file: the table's."""
        more = []
        for (code, column), (count, first, last) in self.counts.items():
            if count > MOST_ALIKE:
                kind = f"{code} of {column}" if column else code
                facts = {"count": count - MOST_ALIKE, "kind": kind, "first": first, "last": last}
                more.append(Finding("not-listed", file=file, facts=facts))
        return [*self.listed, *more]
