"""Mistakes in the demo's files, and what a person does who follows their printed remedies."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import yaml

DEMO = Path(__file__).parents[2] / "demo_inputs"
LAYOUTS = Path(__file__).parents[2] / "config" / "layouts"
CURLEW = "logger/curlew_01.csv"
NAMES = ["clock", "sw_in", "sw_out", "lw_in", "lw_out", "head", "supply"]
THERMISTOR = "beta 10000 3950"
"""The data sheet of the thermistor that stands in for the demo's thermometer."""

Edit = Callable[[Path], None]


@dataclass(frozen=True)
class Mistake:
    """damage: puts it into a campaign folder. follow: carries out the remedy as printed; None where it says
    that nothing can be done about these numbers."""

    title: str
    code: str
    damage: Edit
    follow: Callable[[Path, str], None] | None


# Files of the demo ------------------------------------------------------------------------------------------


def settings(folder: Path, change: Callable[[dict], None]) -> None:
    """Change campaign.yaml."""
    path = folder / "campaign.yaml"
    values = yaml.safe_load(path.read_text(encoding="utf-8"))
    change(values)
    path.write_text(yaml.safe_dump(values, allow_unicode=True, sort_keys=False), encoding="utf-8")


def layout(change: Callable[[dict], None], name: str = "curlew") -> Edit:
    """Change the layout of a set, which is then written in campaign.yaml."""

    def edit(folder: Path) -> None:
        def own(values: dict) -> None:
            entry = values["sets"][name]
            if isinstance(entry["layout"], str):
                text = (LAYOUTS / f"{entry['layout']}.yaml").read_text(encoding="utf-8")
                entry["layout"] = yaml.safe_load(text)
            change(entry["layout"])

        settings(folder, own)

    return edit


def unit(value: str, *channels: str, **more: str) -> Edit:
    """Give channels of the layout a unit, and what else."""

    def change(entry: dict) -> None:
        for channel in channels:
            entry["channels"][channel] |= {"unit": value, **more}

    return layout(change)


def key(name: str, value: object, set_name: str = "curlew") -> Edit:
    """Set a key of the layout."""
    return layout(lambda entry: entry.__setitem__(name, value), set_name)


def of_set(name: str, value: object, set_name: str = "curlew") -> Edit:
    """Set a key of a set."""
    return lambda folder: settings(folder, lambda v: v["sets"][set_name].__setitem__(name, value))


def replaced(file: str, old: str, new: str) -> Edit:
    """Replace a text in a file; it must be there."""

    def edit(folder: Path) -> None:
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text, (file, old)
        (folder / file).write_text(text.replace(old, new), encoding="utf-8")

    return edit


def signals(change: Callable[[pd.DataFrame], None], units: str = "") -> Edit:
    """Change the numbers in curlew's file. units: another line of units."""

    def edit(folder: Path) -> None:
        lines = (folder / CURLEW).read_text(encoding="utf-8").splitlines()
        frame = pd.DataFrame([line.split(",") for line in lines[4:]], columns=NAMES)
        for name in NAMES[1:]:
            frame[name] = frame[name].astype(float)
        change(frame)
        rows = frame.to_csv(header=False, index=False, float_format="%.4f", lineterminator="\n")
        head = lines[:4] if not units else [*lines[:3], units]
        (folder / CURLEW).write_text("\n".join(head) + "\n" + rows, encoding="utf-8")

    return edit


def notes(change: Callable[[pd.DataFrame], object]) -> Edit:
    """Change the notes."""

    def edit(folder: Path) -> None:
        frame = pd.read_csv(folder / "notes.csv", dtype=str, keep_default_na=False)
        change(frame)
        frame.to_csv(folder / "notes.csv", index=False)

    return edit


def restored(*files: str) -> Callable[[Path, str], None]:
    """Put files back as they were: what the reader finds in a certificate, or remembers."""

    def follow(folder: Path, remedy: str) -> None:
        for file in files:
            shutil.copy(DEMO / file, folder / file)

    return follow


def done(*edits: Edit) -> Callable[[Path, str], None]:
    """Carry out edits as a remedy."""

    def follow(folder: Path, remedy: str) -> None:
        for edit in edits:
            edit(folder)

    return follow


def both(*edits: Edit) -> Edit:
    """Several edits."""

    def edit(folder: Path) -> None:
        for one in edits:
            one(folder)

    return edit


def as_printed(folder: Path, remedy: str) -> None:
    """Set what a remedy prints in back quotes, `key: value`, for curlew or its layout, or for the notes."""
    for name, value in re.findall(r"`(\w+): ([^`]+)`", remedy):
        read = yaml.safe_load(value)
        if name == "shift":
            settings(folder, lambda v, read=read: v["notes"].__setitem__("shift", read))
        elif name == "longwave":
            settings(folder, lambda v, read=read: v["sets"]["curlew"].__setitem__("longwave", read))
        elif name in ("unit", "thermometer"):
            layout(lambda entry, n=name, r=read: entry["channels"][BODY].__setitem__(n, r))(folder)
        else:
            key(name, read)(folder)


# The mistakes -----------------------------------------------------------------------------------------------


def thermistor(frame: pd.DataFrame) -> None:
    """The body temperature as kohm of a thermistor."""
    kelvin = frame["head"] + 273.15
    frame["head"] = 10.0 * np.exp(3950.0 * (1.0 / kelvin - 1.0 / 298.15))


def swapped(frame: pd.DataFrame) -> None:
    """Exchange the two sets in all rows but the clock checks."""
    walks = frame["activity"] != "clock_check"
    frame.loc[walks, "set"] = frame.loc[walks, "set"].map({"curlew": "lapwing", "lapwing": "curlew"})


def later(hours: int) -> Callable[[pd.DataFrame], None]:
    """All times of the notes some hours later."""

    def change(frame: pd.DataFrame) -> None:
        for name in ("start", "end"):
            known = frame[name] != ""
            times = pd.to_datetime(frame.loc[known, name], format="%H:%M:%S") + pd.Timedelta(hours=hours)
            frame.loc[known, name] = times.dt.strftime("%H:%M:%S")

    return change


def scaled(channel: str, by: float) -> Edit:
    """Multiply a column of curlew's file."""
    return signals(lambda frame: frame.__setitem__(channel, by * frame[channel]))


def frozen(frame: pd.DataFrame) -> None:
    """A channel keeps one value from a quarter of the record on."""
    frame.loc[len(frame) // 4 :, "lw_out"] = frame["lw_out"].iloc[len(frame) // 4]


def cell(row: int, column: str, value: str) -> Edit:
    """One cell of the notes; row from 0."""
    return notes(lambda frame: frame.__setitem__(column, frame[column].where(frame.index != row, value)))


def walk(number: int) -> int:
    """The place in the notes of one of the walks."""
    frame = pd.read_csv(DEMO / "notes.csv", dtype=str, keep_default_na=False)
    return int(np.flatnonzero(frame["activity"] == "walk")[number])


BODY = "body_temperature"
RADIATION = ("sw_in", "sw_out", "lw_in", "lw_out")
REGISTER = "instruments.csv"
KOHM = "-,mV,mV,mV,mV,kOhm,V"
NO_UNITS = "-,,,,,,"
MISTAKES = (
    Mistake("mV declared as uV", "layout-mismatch", unit("uV", *RADIATION), done(unit("mV", *RADIATION))),
    Mistake(
        "thermistor in kohm declared as ohm, the file says kOhm",
        "layout-mismatch",
        both(signals(thermistor, KOHM), unit("ohm", BODY, thermometer=THERMISTOR)),
        as_printed,
    ),
    Mistake(
        "thermistor in kohm declared as ohm, the file gives no units",
        "body-temperature-unit",
        both(signals(thermistor, NO_UNITS), unit("ohm", BODY)),
        done(unit("kohm", BODY, thermometer=THERMISTOR)),
    ),
    Mistake(
        "thermistor with its curve, kohm declared as ohm",
        "body-temperature-unit",
        both(signals(thermistor, NO_UNITS), unit("ohm", BODY, thermometer=THERMISTOR)),
        as_printed,
    ),
    Mistake(
        "Pt1000 declared as a Pt100",
        "body-temperature-unit",
        both(
            signals(
                lambda f: f.__setitem__(
                    "head", 1000.0 * (1 + 3.9083e-3 * f["head"] - 5.775e-7 * f["head"] ** 2)
                ),
                NO_UNITS,
            ),
            unit("ohm", BODY),
        ),
        as_printed,
    ),
    Mistake(
        "body temperature in K, declared as degC",
        "body-temperature-unit",
        signals(lambda f: f.__setitem__("head", f["head"] + 273.15), NO_UNITS),
        as_printed,
    ),
    Mistake(
        "two typos in the register: a channel and a set",
        "value-invalid",
        both(
            replaced(REGISTER, "curlew,C-11,lw_in", "curlew,C-11,lw_inn"),
            replaced(REGISTER, "curlew,C-11,sw_in", "curlw,C-11,sw_in"),
        ),
        done(
            replaced(REGISTER, "curlew,C-11,lw_inn", "curlew,C-11,lw_in"),
            replaced(REGISTER, "curlw,C-11,sw_in", "curlew,C-11,sw_in"),
        ),
    ),
    Mistake(
        "unit of a factor misspelt",
        "value-invalid",
        replaced(REGISTER, "66.89,W m-2 per mV", "66.89,W m-2 / mV"),
        restored(REGISTER),
    ),
    Mistake(
        "decimal point of a factor",
        "factor-inverted",
        replaced(REGISTER, ",66.89,", ",6.689,"),
        restored(REGISTER),
    ),
    Mistake(
        "factor entered as sensitivity",
        "factor-inverted",
        replaced(REGISTER, "66.89,W m-2 per mV", "66.89,uV per W m-2"),
        done(replaced(REGISTER, "66.89,uV per W m-2", "66.89,W m-2 per mV")),
    ),
    Mistake(
        "logger's name misspelt in the register",
        "pair-broken",
        replaced(REGISTER, "curlew,C-11,lw_in", "curlew,C-1l,lw_in"),
        restored(REGISTER),
    ),
    Mistake(
        "longwave declared corrected, stored net",
        "longwave-not-corrected",
        of_set("longwave", "corrected", "lapwing"),
        lambda folder, remedy: of_set("longwave", "net", "lapwing")(folder),
    ),
    Mistake(
        "columns separated otherwise than declared",
        "wrong-delimiter",
        key("delimiter", ";"),
        done(key("delimiter", ",")),
    ),
    Mistake("records declared every 2 s", "sampling-interval", key("interval", 2.0), as_printed),
    Mistake("leads of lw_in reversed", "sign-reversed", scaled("lw_in", -1.0), done(scaled("lw_in", -1.0))),
    Mistake(
        "shortwave columns exchanged",
        "channels-exchanged",
        signals(lambda f: f.__setitem__(["sw_in", "sw_out"], f[["sw_out", "sw_in"]].to_numpy())),
        done(
            layout(
                lambda e: e["channels"].update(
                    sw_in={"column": "short_from_below", "unit": "mV"},
                    sw_out={"column": "short_from_above", "unit": "mV"},
                )
            )
        ),
    ),
    Mistake("notes an hour late", "notes-shifted", notes(later(1)), as_printed),
    Mistake(
        "curlew's clock in another zone",
        "notes-shifted",
        of_set("utc_offset", "+03:00"),
        done(of_set("utc_offset", "+01:00")),
    ),
    Mistake("sets exchanged in the notes", "notes-sets-swapped", notes(swapped), done(notes(swapped))),
    Mistake(
        "one pass noted in another field",
        "field-inconsistent",
        notes(lambda f: f.loc.__setitem__((walk(2), ["field", "surface"]), ["Threshing yard", "paving"])),
        restored("notes.csv"),
    ),
    Mistake(
        "surface misspelt",
        "notes-unknown-name",
        cell(walk(5), "surface", "shrt_grass"),
        restored("notes.csv"),
    ),
    Mistake("end of a walk missing", "notes-incomplete", cell(walk(4), "end", ""), restored("notes.csv")),
    Mistake(
        "start and end exchanged", "notes-reversed", cell(walk(3), "end", "09:00:00"), restored("notes.csv")
    ),
    Mistake("a lead breaks: lw_out stays at one value", "channel-frozen", signals(frozen), None),
    Mistake(
        "covers left on in the first walks",
        "cover-left-on",
        signals(
            lambda f: f.loc.__setitem__(
                (slice(250, 700), list(RADIATION)), 0.001 * np.random.default_rng(1).standard_normal((451, 4))
            )
        ),
        None,
    ),
)
