"""Pictures of mistakes, sound beside mistaken, and docs/mistakes.md. `PYTHONPATH=tests:workflow python -m study.gallery` makes both anew."""

from __future__ import annotations

import tempfile
from collections.abc import Callable
from pathlib import Path

import matplotlib
import numpy as np
from headland import findings, tables
from headland.figures import COMPONENTS, PLAIN, STYLE, WIDTH, thinned
from matplotlib.figure import Figure
from simulate import campaign, specs
from simulate import mistakes_across as across
from simulate import mistakes_instruments as heads
from simulate.spec import Sky, Spec

import chain

ROOT = Path(__file__).parents[2]
PAGE, FOLDER = ROOT / "docs" / "mistakes.md", ROOT / "docs" / "mistakes"
SENTENCES = findings.sentences(tables.read_config_table(ROOT / "workflow" / "headland" / "findings.csv"))
SHORTWAVE, LONGWAVE, BODY = ("sw_in", "sw_out"), ("lw_in", "lw_out"), ("body_temperature",)
BESIDE = {"upward-shaded": "lapwing", "sets-disagree": "lapwing"}
"""Another set to draw beside the first, where the mistake is told from the two."""


def day(kind: str = "clear") -> Spec:
    """Two sets over four fields."""
    fields = tuple(specs.field(name, surface) for name, surface in (("Lower meadow", "short_grass"), ("Dry tilth", "bare_dry_soil"), ("Barley stubble", "stubble"), ("Farm track", "gravel")))
    sets = specs.two_sets()
    return Spec("A day for mistakes", "2025-08-20 11:00:00", fields, sets, specs.rounds(sets, fields), sky=Sky(kind), seed=12)


Damage = Callable[[campaign.Campaign], campaign.Campaign]

# code, title, how the day is damaged (or the spec), channels shown, what is seen, how it is told, how it is avoided
GALLERY: tuple[tuple[str, str, Damage | Spec, tuple[str, ...], str, str, str], ...] = (
    ("cover-left-on", "A cover left on", lambda c: heads.cover_left_on(c, "curlew", visit=1), SHORTWAVE, "All shortwave falls to nothing in the middle of the day, as sharply as a switch.",
     "Under 2 % of the sun's light at the top of the atmosphere for a minute, and both longwave signals next to 0.", "Count the covers in your pocket before the storage is switched on."),
    ("head-inverted", "The set upside down", lambda c: heads.head_inverted(c, "curlew"), SHORTWAVE + LONGWAVE, "More light seems to come from the ground than from the sky.",
     "The lower shortwave is above the upper one nearly all the time, and the longwave is the wrong way round as well.", "Look for the level or the mark on the upper side before each walk."),
    ("channels-exchanged", "Two shortwave plugs exchanged", lambda c: heads.exchanged(c, "curlew", ("sw",)), SHORTWAVE + LONGWAVE, "More light from below than from above, while the longwave is as it should be.",
     "Shortwave the wrong way round, longwave the right way: so the plugs, not the set.", "Cover one head after the other before leaving and watch which number falls."),
    ("sign-reversed", "Leads of one head reversed", lambda c: heads.sign_reversed(c, "curlew", "sw_in"), SHORTWAVE, "One channel goes down where it should go up.",
     "Shortwave below 0 by day cannot be.", "Look at the signs before the first walk: by day both shortwave channels are positive."),
    ("channel-frozen", "A broken lead", lambda c: heads.channel_frozen(c, "curlew", "sw_out"), SHORTWAVE, "One line becomes as straight as a ruler while the other goes on.",
     "The same value for two minutes and more, while another channel moves by many steps of its resolution.", "Move the plugs gently while somebody watches the numbers."),
    ("longwave-corrected-one-channel", "One longwave channel with its own emission, one without", lambda c: heads.corrected_one_channel(c, "lapwing", "lw_out"), LONGWAVE,
     "The two longwave terms are some 450 W m⁻² further apart than any weather makes them.", "Each channel is held against 0, 1 and 2 times the emission of its own body; here they differ.",
     "Ask who programmed the logger whether it adds σT⁴, and to which channels."),
    ("dome-wet", "Water on a window", lambda c: heads.dome_wet(c, "curlew"), LONGWAVE, "The longwave from the sky jumps up to that of the head itself, although the sun shines.",
     "The net signal of the upper head stays next to 0 under a sky with a beam.", "Dry the window with a soft cloth, and look at it again after each pause."),
    ("thermal-shock", "Fresh out of a warm car", heads.out_of_a_warm_car(day(), "curlew"), BODY, "The body temperature falls steeply in the first minutes, on its way to that of the air.",
     "It changes by more than 12 K per hour over 5 to 10 minutes.", "Let the set stand outside for a quarter of an hour before the first walk."),
    ("swing-strong", "A swinging head", heads.swinging(day(), 15.0), ("sw_in",), "The incoming shortwave frays from second to second under a steady sun.",
     "Its fast scatter is what a swing of some degrees makes; the slow head hides most of it.", "Hold the stick with both hands, and walk slower."),
    ("upward-shaded", "A tree over the upper head", lambda c: across.head_shaded(c, "curlew", 2, 40.0, 20.0, 0.3), ("sw_in",), "The incoming shortwave of one set falls for some seconds and comes back.",
     "The other set stood under the same clear sky and saw nothing: a cloud would have reached both.", "Keep trees, walls and people out of the sun's direction."),
    ("sets-disagree", "A head that reads too much", lambda c: across.scaled(c, "curlew", "sw_in", 1.25), ("sw_in",), "One set's sky is brighter than the other's all day long.",
     "The ratio of both is further from 1 than their uncertainties allow; which of the two is off needs a station or a third set.", "Put both sets side by side for five minutes at the start."),
    ("head-tilted", "A head off level", lambda c: across.tilted(c, "curlew", 8.0), ("sw_in",), "The incoming shortwave has steps that come and go with the direction of the walk.",
     "Under a clear sky it follows the sine and cosine of the heading.", "Level the head on its carrier; walking there and back over each field cancels most of it."),
)


def picture(sound, mistaken, set_name: str, channels: tuple[str, ...], beside: str | None = None) -> Figure:
    """The same channels of one set, as they should be and as they are; with those of a set beside, where one is named."""
    with matplotlib.rc_context(STYLE):
        figure = Figure(figsize=(WIDTH, 2.1), layout="constrained")
        for ax, samples, title in zip(figure.subplots(1, 2, sharex=True, sharey=True), (sound, mistaken), ("as it should be", "with the mistake")):
            begin = samples[set_name]["time_utc"].iloc[0]
            for other, frame in ((False, samples[set_name]), *([(True, samples[beside])] if beside else [])):
                seconds = (frame["time_utc"] - begin).dt.total_seconds().to_numpy()
                cuts = np.concatenate([[0], np.flatnonzero(np.diff(seconds) > 2.5) + 1, [len(frame)]])
                for channel in channels:
                    name, colour, style = COMPONENTS.get(channel, ("temperature of the body", "#1f4e8c", "-"))
                    name, colour, style = (f"{name}, other set", PLAIN[0], "--") if other else (name, colour, style)
                    for a, b in zip(cuts, cuts[1:]):
                        ax.plot(*thinned(seconds[a:b] / 60.0, frame[channel].to_numpy(float)[a:b], 120), color=colour, ls=style, label=name if a == 0 else None)
            ax.set_title(title, loc="left")
            ax.set_xlabel("minutes since the storage was first switched on")
        figure.axes[0].set_ylabel("°C" if channels == BODY else "W m⁻²")
        figure.legend(*figure.axes[0].get_legend_handles_labels(), ncols=4, loc="outside upper center")
    return figure


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    parts = ["# Mistakes, and how they look", "",
             "Made by `PYTHONPATH=tests:workflow python -m study.gallery` from simulated campaigns: on the left the day as it should be, on the right the same day with one mistake. Every finding stands in [findings.md](findings.md), "
             "and how well each is told in [detection.md](detection.md).", ""]
    with tempfile.TemporaryDirectory() as folder:
        sound = campaign.simulate(day())
        right = chain.run(sound.write(Path(folder) / "sound"), to="segment").samples
        for code, title, damage, channels, seen, told, avoided in GALLERY:
            made = campaign.simulate(damage) if isinstance(damage, Spec) else damage(sound)
            outcome = chain.run(made.write(Path(folder) / code), draws=64)
            name = "lapwing" if code == "longwave-corrected-one-channel" else "curlew"
            picture(right, outcome.samples, name, channels, BESIDE.get(code)).savefig(FOLDER / f"{code}.png", dpi=80, metadata={"Software": None})
            if set(outcome.codes("error", "warning")) != {code}:
                raise SystemExit(f"{code}: the chain tells {outcome.codes('error', 'warning')}; the page is not written")
            print(code, "named, and nothing else")
            parts += [f"## {title}", "", f"![{title}: sound on the left, mistaken on the right](mistakes/{code}.png)", "",
                      f"**In the data.** {seen} **How it is told** (`{code}`). {told} **In the field.** {avoided}", ""]
    PAGE.write_text("\n".join(parts), encoding="utf-8")


if __name__ == "__main__":
    main()
