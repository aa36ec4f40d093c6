"""Parts of the page on the claims: pairs of surfaces, silence, mistakes, and the claims with their goals."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence

import pandas as pd

from study.world_claims import TARGETS
from study.world_decidable import in_words
from study.world_mistakes import verdict, wrong_names
from study.world_rates import Rate, coverage, rate, width
from study.world_truth import COMPARED, HEAT, SEVEN

SKIES = ("clear", "haze", "cirrus", "scattered", "broken", "overcast")
ORDERS = ("once", "a_then_b", "a_b_a", "rounds", "two_at_a_time")
DECIDABLE = ("rounds", "a_b_a")
ABOUT = ("heads", "order", "sky", "target", "wanted", "half")
VERDICTS = ("named", "undecided", "silent", "not decidable", "in twin", "no room")
NEAR = 0.15
"""How far a difference may be from the wanted one to count as reached, as a share."""
STEPS = (0.0, 0.5, 1.0, 1.5, 2.0, 3.0, 5.0, float("inf"))


def table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table in Markdown."""
    lines = ["| " + " | ".join(head) + " |", "|---" * len(head) + "|"]
    return "\n".join([*lines, *("| " + " | ".join(row) + " |" for row in rows)])


def frame_of(records: list[dict], key: str) -> pd.DataFrame:
    """Return the rows of a list that each record has, with what is known of the campaign."""
    rows = [
        one
        | {name: record.get(name) for name in ABOUT}
        | {"campaign": f"{record['seed']}-{record['number']}"}
        for record in records
        for one in record.get(key, [])
    ]
    return pd.DataFrame(rows)


def values_of(records: list[dict]) -> pd.DataFrame:
    """Return all values of campaigns beside their truth, one a row."""
    frame = frame_of(records, "values")
    numbers = ["value", "low", "high", "truth", "truth_used", "net"]
    return frame.astype(dict.fromkeys(numbers, float)) if len(frame) else frame


def differences_of(records: list[dict]) -> pd.DataFrame:
    """Return all differences beside their truth, one a row."""
    frame = frame_of(records, "differences")
    numbers = ["value", "low", "high", "truth"]
    return frame.astype(dict.fromkeys(numbers, float)) if len(frame) else frame


def called_different(rows: pd.DataFrame) -> Rate:
    """Return how often a pair is called different, of the cases with a verdict."""
    given = rows[rows["verdict"].isin(["different", "same"])]
    return rate(given["verdict"] == "different", given["campaign"])


def found(rows: pd.DataFrame) -> Rate:
    """Return how often a true difference is called different, with the right sign."""
    right = (rows["verdict"] == "different") & (rows["value"] * rows["truth"] > 0)
    return rate(right, rows["campaign"])


def reached(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows of the quantity that was made to differ, where the wanted difference was reached."""
    own = rows[rows["quantity"] == rows["target"]]
    size = own["truth"].abs() / own["wanted"].astype(float).abs()  # the order of names may turn the sign
    return own[(size - 1.0).abs() <= NEAR]


def undecided(rows: pd.DataFrame) -> Rate:
    """Return how often a pair visited in rounds or A-B-A is left undecided."""
    own = rows[rows["order"].isin(DECIDABLE) & (rows["verdict"] != "none")]
    return rate(own["verdict"] == "undecided", own["campaign"])


def pairs(whole: dict[str, list[dict]]) -> list[str]:
    """Return the parts on pairs of surfaces."""
    same, other = differences_of(whole["identical"]), differences_of(whole["differing"])
    drawn = differences_of(whole["campaigns"])
    out = ["## Two fields of identical ground", IDENTICAL]
    if len(same):
        rows = []
        for order in ORDERS:
            own = same[same["order"] == order]
            cells = [called_different(own[own["quantity"] == quantity]).counts() for quantity in COMPARED]
            open_ = sum(own["verdict"] == "undecided"), sum(own["verdict"] == "none")
            rows.append([order, str(own["campaign"].nunique()), *cells, *map(str, open_)])
        out.append(table(["order", "campaigns", *COMPARED, "undecided", "no verdict"], rows))
    out += ["## Two fields that differ by twice the half-width, in rounds", DIFFERING]
    if len(other):
        rows = []
        for target in TARGETS:
            own = reached(other[other["target"] == target])
            tried = other[(other["target"] == target)]["campaign"].nunique()
            rows.append([target, str(tried), str(len(own)), found(own).counts()])
        out.append(table(["quantity", "campaigns", "difference reached", "called different"], rows))
    everything = pd.concat([frame for frame in (other, drawn) if len(frame)])
    out += ["### By the size of the difference", SIZES, by_size(everything)]
    out += ["### Coverage of differences at a common moment", DIFFERENCES, covered(drawn, same, other)]
    return out


def by_size(rows: pd.DataFrame) -> str:
    """Return how often differences are called different, by their size in half-widths."""
    rows = rows[rows["low"].notna() & rows["truth"].notna()]
    size = rows["truth"].abs() / (0.5 * (rows["high"] - rows["low"]))
    lines = []
    for low, high in zip(STEPS[:-1], STEPS[1:], strict=True):
        own = rows[(size >= low) & (size < high)]
        cells = [found(own[own["quantity"] == quantity]).counts() for quantity in COMPARED]
        lines.append([f"{low:g} to {high:g}", *cells])
    return table(["|truth| in half-widths".replace("|", "\\|"), *COMPARED], lines)


def covered(*frames: pd.DataFrame) -> str:
    """Return how often intervals of differences hold the difference at a common moment, by order."""
    rows = pd.concat([frame for frame in frames if len(frame)])
    lines = []
    for quantity in COMPARED:
        own = rows[rows["quantity"] == quantity]
        cells = [coverage(own[own["order"] == order]).text() for order in ORDERS]
        one = width(own)
        lines.append([quantity, coverage(own).text(), *cells, f"{one.factor:.1f}" if one else "–"])
    return table(["quantity", "all", *ORDERS, "factor"], lines)


def dark_albedos(record: dict) -> int:
    """Return how many segments of a campaign have incoming shortwave but no albedo, as under a low sun."""
    names = {
        quantity: {
            one["name"] for one in record["values"] if (one["kind"], one["quantity"]) == ("segment", quantity)
        }
        for quantity in ("sw_in", "albedo")
    }
    return len(names["sw_in"] - names["albedo"])


def lacking(record: dict) -> int:
    """Return how many numbers of segments a campaign lacks, apart from albedo under a low sun."""
    missing = record["withheld"]
    if not missing:
        return 0
    return missing["missing"] + 7 * missing["absent"] + missing["states"] - dark_albedos(record)


def silence(records: list[dict]) -> list[str]:
    """Return the part on sound campaigns: what was said, and what was withheld."""
    total = len(records)
    spoken = Counter(
        (code, severity)
        for record in records
        for severity, codes in record["codes"].items()
        for code in set(codes)
    )
    every = [code for (code, _), count in spoken.items() if count == total]
    said = [set().union(*record["codes"].values()) for record in records]
    quiet, rest = sum(not one for one in said), sum(not one - set(every) for one in said)
    numbers = sum(record["withheld"].get("numbers", 0) for record in records)
    gaps = [lacking(record) for record in records]
    always = (
        f"All have {', '.join(f'`{code}`' for code in every)}; without it {rest} are silent. "
        if every
        else ""
    )
    text = (
        f"Of {total} sound campaigns {quiet} are without an error or warning. {always}"
        f"In {sum(map(bool, gaps))} a number of a segment is missing: {sum(gaps)} of {numbers}. "
        "Albedo under a low sun does not count as missing."
    )
    often = sorted(spoken.items(), key=lambda one: (-one[1], one[0]))
    rows = [[f"`{code}`", severity, str(count)] for (code, severity), count in often]
    return ["## Sound campaigns", text, table(["code", "severity", "campaigns"], rows)]


def mistakes(records: list[dict]) -> list[str]:
    """Return the part on mistakes."""
    rows, variants = (
        [],
        dict.fromkeys(record["variant"] for record in sorted(records, key=lambda one: one["number"])),
    )
    for variant in variants:
        own = [record for record in records if record["variant"] == variant]
        by = Counter(verdict(record) for record in own)
        wrong = Counter(code for record in own for code in wrong_names(record))
        names = ", ".join(f"`{code}` {count}" for code, count in wrong.most_common())
        counts = [str(by[name]) for name in VERDICTS]
        rows.append([f"`{variant}`", *counts, names or "–"])
    head = ["mistake", *VERDICTS, "wrong names"]
    return ["## Mistakes", f"{MISTAKES}\n\n{NOT_DECIDABLE} {in_words()}", table(head, rows)]


def broken(records: list[dict]) -> list[str]:
    """Return the part on campaigns in which the chain or the study broke off."""
    if not records:
        return []
    counts = Counter((record["broken"].splitlines()[-1][:150], record["where"][-90:]) for record in records)
    rows = [[f"`{error}`", f"`{where}`", str(count)] for (error, where), count in counts.most_common()]
    rows = [[cell.replace("|", "\\|") for cell in row] for row in rows]
    return ["## Campaigns that broke off", table(["error", "where", "campaigns"], rows)]


def claims(whole: dict[str, list[dict]], values: pd.DataFrame) -> str:
    """Return the claims with their goals and what was found."""
    kinds = ("segment", "field", "surface")
    cells = {
        (kind, quantity, heads): coverage(
            values[(values["kind"] == kind) & (values["quantity"] == quantity) & own]
        )
        for kind in kinds
        for quantity in SEVEN
        for heads, own in (("all", values["heads"] != ""), *((h, values["heads"] == h) for h in "ABC"))
    }
    known = {key: one for key, one in cells.items() if one.trials}
    whole_ones = [one for key, one in known.items() if key[2] == "all"]
    inside = sum(0.93 <= one.share <= 0.98 for one in whole_ones)
    classes = {key: one for key, one in known.items() if key[2] != "all"}
    worst = min(classes, key=lambda key: classes[key].share)
    hot = values[values["quantity"].isin(HEAT)]
    heats = [coverage(own) for _, own in hot.groupby(["kind", "quantity"])]
    half = 0.5 * (hot["high"] - hot["low"]).groupby([hot["kind"], hot["quantity"]]).mean()
    shares = half / hot["net"].abs().groupby([hot["kind"], hot["quantity"]]).mean()
    same, other = differences_of(whole["identical"]), differences_of(whole["differing"])
    drawn = differences_of(whole["campaigns"])
    mistaken = [record for record in whole["mistakes"] if record["verdict"] != "no room"]
    verdicts = [verdict(record) for record in mistaken]
    named = pd.Series([one == "named" for one in verdicts if one in ("named", "silent")])
    wrong = pd.Series([bool(wrong_names(record)) for record in mistaken])
    quiet = pd.Series([not any(record["codes"].values()) for record in whole["campaigns"]])
    kept = pd.Series([not lacking(record) for record in whole["campaigns"]])
    ratios = [width(own) for _, own in values[values["quantity"].isin(SEVEN)].groupby(["kind", "quantity"])]
    wide = sum(one is not None and one.ratio <= 1.5 for one in ratios)
    rows = [
        [
            "seven quantities of segments, fields, surfaces",
            "0.93 to 0.98 each",
            f"{inside} of {len(whole_ones)} kept",
        ],
        ["any class of heads", "0.92 or more", f"lowest: {' '.join(worst)}, {known[worst].text()}"],
        ["ground, sensible, latent heat", "0.90 to 0.99", ", ".join(f"{one.share:.2f}" for one in heats)],
        ["their half-width over net radiation", "at most 0.2", ", ".join(f"{share:.2f}" for share in shares)],
        [
            "identical ground called different",
            "at most 0.06",
            called_different(same).counts() if len(same) else "–",
        ],
        [
            "ground that differs by two half-widths, in rounds",
            "at least 0.80",
            found(reached(other)).counts() if len(other) else "–",
        ],
        [
            "undecided in rounds or A-B-A",
            "at most 0.20",
            undecided(pd.concat([frame for frame in (same, drawn) if len(frame)])).counts(),
        ],
        ["sound campaigns without error or warning", "at least 0.98", plain(quiet)],
        ["sound campaigns with every number", "all", plain(kept)],
        ["mistakes named, where decidable and not called undecided", "at least 0.95", plain(named)],
        ["mistakes with a wrong name", "at most 0.01", plain(wrong)],
        ["half-width over 1.96 rms error", "at most 1.5", f"{wide} of {len(ratios)} kept"],
    ]
    return table(["claim", "goal", "found"], rows)


def plain(hit: pd.Series) -> str:
    """Return a share of campaigns, each of them one trial."""
    return rate(hit, pd.Series(range(len(hit)))).counts()


IDENTICAL = """Both fields have the same ground; the second is noted as a class of its own with the first
one's properties. Cells: called different, of the cases with a verdict."""
DIFFERING = f"""The second field's albedo is changed until the quantity differs at a common moment by twice
the half-width that the same day gives with identical ground. *Reached*: within {NEAR:.0%} of it. *Called
different* asks for the right sign, too."""
SIZES = """All pairs of drawn campaigns and those made to differ, in every order of visits. *Called
different* asks for the right sign."""
DIFFERENCES = """The interval in the table of differences against the difference at a common moment, over
the time from the pair's first visit to its last; for the common sky, under the campaign's mean incoming
terms. *Factor* as above."""
MISTAKES = """Each mistake is put into campaigns with room for it. *Named*: its code is among the findings
and not called undecided. *In twin*: the same campaign without the mistake has the finding, too.
*Undecided*: the finding says so, or the check is among those that could not be made. A *wrong name* is an
error or warning that the same campaign without the mistake does not show, and that is neither the mistake's
code nor a plain consequence (`tests/study/world_mistakes.py` lists those). An outdated factor is put into
the register as well, since nothing else shows it."""
NOT_DECIDABLE = """*Not decidable*: the campaign lacks what would show the mistake, by a rule that knows the
truth and the campaign's layout alone and nothing of what was found (`tests/study/world_decidable.py`). Such
runs count for wrong names only."""
