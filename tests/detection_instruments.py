"""How often mistakes of instruments, loggers and samples are named, and how often sound campaigns are silent: a study over simulated campaigns.

    PYTHONPATH=workflow:tests python tests/detection_instruments.py [seeds a row] [sound campaigns]

writes the section "Instruments" of docs/detection.md. A campaign in which a mistake can't be told by what was recorded (the condition stands beside
each row) is counted apart: there silence or "Can't be decided" is the right answer.
"""

from __future__ import annotations

import dataclasses
import re
import sys
import tempfile
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import chain
import numpy as np
from headland import findings
from simulate import mistakes_instruments as mistakes
from simulate import specs
from simulate.campaign import Campaign, simulate
from simulate.spec import CHANNELS, Spec

ROOT = Path(__file__).parents[1]
SKIES = ("clear", "broken", "overcast")
IN_TURN = ("in turn",)
"""For what no sky has a part in: the three in turn."""

FOLLOWERS = {"note-without-data", "segment-unused", "beyond-possible", "certificate-later", "clock-check-far-off", "no-segment", "data-without-note",
             "notes-shifted", "clock-against-sun", "interval-unknown"}
"""What may stand beside a named mistake because it follows from it."""


def told(campaign: Campaign) -> list[tuple[str, str, str, str]]:
    """Severity, code, variant and sentence of everything that the chain finds before it averages, notes only of what stands twice or was skipped."""
    with tempfile.TemporaryDirectory() as folder:
        campaign.write(folder)
        outcome = chain.run(Path(folder), to="segment")
    rows = [(findings.describe(finding, step, chain.SENTENCES), finding.variant) for step, finding in outcome.found]
    return [(row["severity"], row["code"], variant, row["what"]) for row, variant in rows
            if row["severity"] != "note" or row["code"] in ("rows-duplicated", "lines-skipped")]


# What a campaign can show, by its truth ---------------------------------------------------------------------------


class Seen:
    """What the records of one set could show: truth and records of the sound campaign, at its own interval."""

    def __init__(self, campaign: Campaign):
        self.campaign, self.name = campaign, campaign.spec.sets[0].name
        self.true, self.interval = campaign.samples[self.name], campaign.spec.sets[0].interval
        self.recorded = len(self.true) * self.interval
        self.lit = ((np.degrees(self.true["elevation"]) > 11.0) & (self.true["sw_in"] > 60.0)).to_numpy()
        self.day = self.lit.mean() > 0.9
        self.beam = self.day and (self.true["direct"] > 0.5 * self.true["sw_in"]).sum() * self.interval > 150.0
        self.albedo = float(self.true["sw_out"].sum() / self.true["sw_in"].sum()) if self.day else np.nan

    def net(self, channel: str) -> np.ndarray:
        return mistakes.flux(self.campaign, self.name, channel)

    def beam_first(self, seconds: float) -> bool:
        """Whether the sun shines for most of the first recorded seconds."""
        here = slice(0, int(seconds / self.interval))
        return self.day and bool((self.true["direct"] > 0.5 * self.true["sw_in"])[here].mean() > 0.5)

    def ground_hot(self) -> bool:
        """Ground of land, warmer than the head by 25 W m-2 under a strong sun."""
        sunny = (self.lit & (self.true["sw_in"] > 320.0)).to_numpy()
        return sunny.sum() > 20 and 0.12 < self.albedo < 0.45 and float(np.median(self.net("lw_out")[sunny])) > 27.0

    def span(self) -> float:
        time = self.true["time_utc"].to_numpy()
        return float(time[-1] - time[0])

    def along_the_sun(self) -> bool:
        turn = np.concatenate([np.cos(self.true["azimuth"].to_numpy() - np.radians(f.heading)) for f in self.campaign.spec.fields[:1]])
        return bool(np.abs(turn).max() > 0.6) and np.degrees(self.true["elevation"]).max() < 70.0


def alone(spec: Spec) -> Spec:
    """The same campaign with its first set alone: nothing here compares sets."""
    first = spec.sets[0]
    return spec.with_(sets=(first,), visits=tuple(visit for visit in spec.visits if visit.set == first.name))


Damage = Callable[[Campaign, str], Campaign]


@dataclasses.dataclass(frozen=True)
class Row:
    """A mistake in a study: its code, how it is made, where it can be decided (in words and by truth), and under which skies it is tried."""

    title: str
    code: str
    damage: Damage
    when: str = "always"
    can: Callable[[Seen], bool] = lambda seen: True
    prepare: Callable[[Spec], Spec] = alone
    skies: tuple[str, ...] = SKIES
    severity: str = "error"


def volts(spec: Spec) -> Spec:
    """The first set alone, storing mV."""
    one = alone(spec)
    return one.with_(sets=(dataclasses.replace(one.sets[0], layout="comma-clock", unit=None, digits=4, body_unit=None, longwave="net", interval=1.0),))


def watts(spec: Spec) -> Spec:
    """The first set alone, storing W m-2."""
    one = alone(spec)
    return one.with_(sets=(dataclasses.replace(one.sets[0], layout="semicolon-day", unit=None, digits=2, body_unit=None, interval=1.0),))


def of(function: Damage, *args, **options) -> Damage:
    return lambda campaign, name: function(campaign, name, *args, **options)


def unhurt(campaign: Campaign, name: str) -> Campaign:
    return campaign


DAY, BEAM = ("by day", lambda seen: seen.day), ("under a beam for 150 s", lambda seen: seen.beam)
NO_SNOW = ("by day, not over snow", lambda seen: seen.day and seen.albedo < 0.7)
WHILE = ("by day, recorded for 2.5 minutes", lambda seen: seen.day and seen.recorded > 150.0)
LONG = ("recorded for 4 minutes", lambda seen: seen.recorded > 240.0)

ROWS = (
    Row("corrected twice", "longwave-corrected-twice", mistakes.corrected_twice, prepare=watts, skies=IN_TURN),
    Row("not corrected", "longwave-not-corrected", mistakes.not_corrected, prepare=watts, skies=IN_TURN),
    Row("corrected: lw_out alone", "longwave-corrected-one-channel", of(mistakes.corrected_one_channel, "lw_out"), prepare=watts, skies=IN_TURN),
    Row("corrected: lw_in alone", "longwave-corrected-one-channel", of(mistakes.corrected_one_channel, "lw_in"), prepare=watts, skies=IN_TURN),
    Row("body temperature in degF", "body-temperature-unit", of(mistakes.body_in, "degF"), prepare=volts, skies=IN_TURN),
    Row("body temperature in K", "body-temperature-unit", of(mistakes.body_in, "K"), prepare=volts, skies=IN_TURN),
    Row("factor inverted: sw_in", "factor-inverted", of(mistakes.factor_inverted, ("sw_in",)), *WHILE, prepare=volts),
    Row("factor inverted: sw_out", "factor-inverted", of(mistakes.factor_inverted, ("sw_out",)), *NO_SNOW, prepare=volts),
    Row("factor inverted: lw_in", "factor-inverted", of(mistakes.factor_inverted, ("lw_in",)), prepare=volts),
    Row("factor inverted: lw_out", "factor-inverted", of(mistakes.factor_inverted, ("lw_out",)), prepare=volts),
    Row("factors inverted: both shortwave", "factor-inverted", of(mistakes.factor_inverted, ("sw_in", "sw_out")), *BEAM, prepare=volts),
    Row("factors inverted: both longwave", "factor-inverted", of(mistakes.factor_inverted, ("lw_in", "lw_out")), *BEAM, prepare=volts),
    Row("factors inverted: all four", "factor-inverted", of(mistakes.factor_inverted, CHANNELS), *BEAM, prepare=volts),
    Row("factors exchanged between the bands", "factors-exchanged", of(mistakes.factors_exchanged, "sw_in", "lw_in"), prepare=volts, skies=IN_TURN),
    Row("programmed factors exchanged", "factors-exchanged", of(mistakes.factors_exchanged, "sw_in", "sw_out", "programmed_factor"), prepare=watts, skies=IN_TURN),
    Row("pair broken: register", "pair-broken", mistakes.pair_broken, skies=IN_TURN),
    Row("pair broken: file", "pair-broken", of(mistakes.pair_broken, "file"), prepare=volts, skies=IN_TURN),
    Row("all covers, a whole segment", "cover-left-on", mistakes.cover_left_on, *DAY, prepare=volts, skies=IN_TURN),
    Row("all covers for 75 s", "cover-left-on", of(mistakes.cover_left_on, lasts=75.0), "by day, in a longer segment",
        lambda seen: seen.day and mistakes.during(seen.campaign, seen.name, 0).sum() > 90, volts, IN_TURN, severity="warning"),
    Row("cover on sw_in", "cover-left-on", of(mistakes.cover_left_on, ("sw_in",)), *DAY, prepare=volts, skies=IN_TURN),
    Row("cover on sw_out", "cover-left-on", of(mistakes.cover_left_on, ("sw_out",)), "by day, sw_in over 110 W m-2",
        lambda seen: seen.day and seen.true["sw_in"].min() > 110.0, volts, IN_TURN),
    Row("set upside down", "head-inverted", mistakes.head_inverted, *NO_SNOW),
    Row("shortwave exchanged", "channels-exchanged", of(mistakes.exchanged, ("sw",)), *NO_SNOW),
    Row("longwave exchanged", "channels-exchanged", of(mistakes.exchanged, ("lw",)), *DAY),
    Row("sign reversed: sw_in", "sign-reversed", of(mistakes.sign_reversed, "sw_in"), *DAY),
    Row("sign reversed: sw_out", "sign-reversed", of(mistakes.sign_reversed, "sw_out"), *DAY),
    Row("sign reversed: lw_in", "sign-reversed", of(mistakes.sign_reversed, "lw_in"), "its net signal beyond 30 W m-2",
        lambda seen: np.median(seen.net("lw_in")) < -30.0),
    Row("sign reversed: lw_out", "sign-reversed", of(mistakes.sign_reversed, "lw_out"), "net signal over 27 W m-2 under a strong sun", Seen.ground_hot),
    *(Row(f"frozen: {c}", "channel-frozen", of(mistakes.channel_frozen, c), "for 150 s" + ", by day" * c.startswith("sw"),
          lambda seen, c=c: 0.8 * seen.recorded > 150.0 and (seen.day or c.startswith("lw")), volts, IN_TURN) for c in CHANNELS),
    Row("swing of 15 degrees", "swing-strong", unhurt, "under a beam for 150 s, along the sun's direction", lambda seen: seen.beam and seen.along_the_sun(),
        lambda spec: mistakes.swinging(volts(spec)), severity="warning"),
    Row("window wet", "dome-wet", mistakes.dome_wet, "in the sun", lambda seen: seen.beam_first(400.0) and seen.recorded > 200.0, volts, severity="warning"),
    Row("8 K warmer at first", "thermal-shock", unhurt, "recorded for more than 6 minutes, pauses included", lambda seen: seen.span() > 400.0,
        lambda spec: mistakes.out_of_a_warm_car(volts(spec), spec.sets[0].name), IN_TURN, "warning"),
    Row("supply sags", "battery-low", mistakes.battery_low, *LONG, prepare=volts, skies=IN_TURN, severity="warning"),
    Row("supply sags, lw_in with it", "battery-low", of(mistakes.battery_low, ("lw_in",)), *LONG, prepare=volts, skies=IN_TURN),
    Row("clock at its default date", "clock-reset", mistakes.clock_reset, prepare=volts, skies=IN_TURN),
    Row("clock set back", "clock-backwards", mistakes.clock_backwards, prepare=watts, skies=IN_TURN),
    Row("block twice", "rows-duplicated", mistakes.rows_duplicated, prepare=watts, skies=IN_TURN, severity="note"),
    Row("block twice, values differ", "rows-duplicated", of(mistakes.rows_duplicated, True), prepare=volts, skies=IN_TURN),
    Row("files overlap", "rows-duplicated", mistakes.overlapping_files, prepare=volts, skies=IN_TURN, severity="note"),
    Row("last line cut", "file-truncated", mistakes.file_truncated, prepare=volts, skies=IN_TURN, severity="warning"),
    Row("lines garbled", "row-damaged", mistakes.row_damaged, prepare=watts, skies=IN_TURN, severity="warning"),
    Row("a line in another encoding", "row-damaged", mistakes.mixed_encodings, prepare=volts, skies=IN_TURN, severity="warning"),
    Row("head of the file repeated", "lines-skipped", mistakes.header_repeated, prepare=watts, skies=IN_TURN, severity="note"),
    Row("0 bytes", "file-empty", mistakes.empty_file, prepare=watts, skies=IN_TURN),
    Row("decimal mark: comma", "decimal-comma", mistakes.other_decimal, prepare=volts, skies=IN_TURN),
    Row("decimal mark: point", "decimal-comma", mistakes.other_decimal, prepare=watts, skies=IN_TURN),
    Row("tabs between the fields", "wrong-delimiter", mistakes.other_delimiter, prepare=volts, skies=IN_TURN),
    Row("UTF-16", "wrong-encoding", mistakes.other_encoding, prepare=watts, skies=IN_TURN),
    Row("every second record", "sampling-interval", mistakes.sampling_interval, prepare=volts, skies=IN_TURN),
)
BESIDE = {("block twice, values differ", "clock-backwards"), ("decimal mark: comma", "wrong-delimiter")}
"""What is true as well: the second block goes back in time; a comma in numbers moves the fields' own mark to another."""


_kept: dict[str, Campaign] = {}


def simulated(spec: Spec) -> Campaign:
    """The campaign of a spec; the latest are kept, as rows share them."""
    key = repr(spec)
    if key not in _kept:
        if len(_kept) > 200:
            _kept.pop(next(iter(_kept)))
        _kept[key] = simulate(spec)
    return _kept[key]


def tried(row: Row, seed: int, kind: str) -> tuple[str, bool]:
    """What the chain says of one damaged campaign: `named`, `undecided`, `silent` or `wrong: codes`; and whether it can be decided."""
    kind = SKIES[seed % 3] if kind == "in turn" else kind
    campaign = simulated(row.prepare(specs.sound(seed, kind)))
    said = told(row.damage(campaign, campaign.spec.sets[0].name))
    others = {code for severity, code, _, what in said if severity != "note" and code != row.code and not what.startswith("Can't be decided")
              and code not in FOLLOWERS and (row.title, code) not in BESIDE}
    own = [severity for severity, code, _, what in said if code == row.code and not what.startswith("Can't be decided")]
    if others:
        return f"wrong: {', '.join(sorted(others))}", row.can(Seen(campaign))
    if row.severity in own or ("error" in own and row.severity == "warning"):
        return "named", row.can(Seen(campaign))
    return ("undecided" if any(what.startswith("Can't be decided") for *_, what in said) else "silent"), row.can(Seen(campaign))


# Sound campaigns --------------------------------------------------------------------------------------------------


def sound(number: int) -> Spec:
    """One of many campaigns in which nobody made a mistake: nine in ten drawn at random, the others of a special kind."""
    special = (specs.polar_day, specs.polar_night, specs.southern, specs.over_midnight, specs.two_days, lambda **c: specs.many_sets(4, **c),
               lambda **c: specs.fast(True, **c), specs.inline_layout)
    if number % 10:
        return specs.sound(number)
    make = special[number // 10 % len(special)]
    return make(seed=1000 + number) if number % 20 else make(seed=1000 + number, sky=dataclasses.replace(make().sky, kind=SKIES[number // 20 % 3]))


# Rates and the page -----------------------------------------------------------------------------------------------


def rate(row: Row, kind: str, seeds: int) -> dict[str, object]:
    """How a row fared under one sky: of the campaigns in which it can be decided, and of the others, counts of what was said; and wrong names."""
    results = [(seed, *tried(row, seed, kind)) for seed in range(seeds)]
    return {"row": row, "sky": kind, "able": Counter(result.split(":")[0] for _, result, can in results if can),
            "open": Counter(result.split(":")[0] for _, result, can in results if not can),
            "missed": [seed for seed, result, can in results if can and result != "named"],
            "wrong": [f"{result.removeprefix('wrong: ')} (seed {seed})" for seed, result, _ in results if result.startswith("wrong")]}


def alarms(count: int) -> list[str]:
    """Errors and warnings in so many sound campaigns."""
    return [f"campaign {number}: {code}" for number in range(count) for severity, code, *_ in told(simulate(sound(number))) if severity != "note"]


def section(rates: list[dict], count: int, raised: list[str]) -> str:
    """The section of the page, in Markdown."""
    lines = ["## Instruments", "", "Made by `PYTHONPATH=workflow:tests python tests/detection_instruments.py`. Each mistake is put into one set of sound simulated "
             "campaigns, at every seed under each sky. *Decidable*: campaigns in which what was recorded can show it (last column), and how many of them are named "
             "without \"Can't be decided\". *Open*: what was said in the others. *Other codes*: errors or warnings that neither name the mistake nor follow from it.", "",
             "| mistake | code | sky | named, of decidable | open | other codes | decidable where |", "|---|---|---|---|---|---|---|"]
    for r in rates:
        count_able = sum(r["able"].values())
        rest = ", ".join(f"{n} {what}" for what, n in sorted(r["open"].items())) or "–"
        lines.append(f"| {r['row'].title} | `{r['row'].code}` | {r['sky']} | {r['able']['named']} of {count_able} | {rest} | {'; '.join(r['wrong']) or '–'} | {r['row'].when} |")
    missed = [f"{r['row'].title}, {r['sky']} (seed {', '.join(map(str, r['missed']))})" for r in rates if r["missed"]]
    total, named = sum(sum(r["able"].values()) for r in rates), sum(r["able"]["named"] for r in rates)
    lines += ["", f"In all {named} of {total} decidable cases are named ({100.0 * named / max(total, 1):.1f} %)." + (f" Not named: {'; '.join(missed)}." if missed else ""), "",
              f"{count} sound campaigns (clear, broken, overcast; day, night, snow; one to four sets; mV, uV and W m-2; polar day and night, two days): "
              + (f"{len(raised)} errors or warnings: {'; '.join(raised)}." if raised else "not one error or warning."), ""]
    return "\n".join(lines)


def put(page: Path, text: str) -> None:
    """Put a section into a page, in place of the one of the same title."""
    title = text.splitlines()[0]
    before = page.read_text(encoding="utf-8") if page.is_file() else "# How well mistakes are told\n"
    rest = re.sub(rf"{re.escape(title)}\n.*?(?=\n## |\Z)", "", before, flags=re.S).rstrip("\n")
    page.write_text(f"{rest}\n\n{text}", encoding="utf-8")


def main() -> None:
    seeds, count = (int(text) for text in (sys.argv[1:] + ["20", "300"][len(sys.argv) - 1:]))
    rates = []
    for row in ROWS:
        for kind in row.skies:
            rates.append(rate(row, kind, seeds))
            print(row.title, kind, *(rates[-1][key] for key in ("able", "open", "missed", "wrong")), flush=True)
    put(ROOT / "docs" / "detection.md", section(rates, count, alarms(count)))


if __name__ == "__main__":
    main()
