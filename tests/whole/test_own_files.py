"""Files as they come off other people's loggers: from nothing to right numbers in at most six commands.

The demo's records are written again as hourly files in another language and encoding, with a line of the site
above the names, decimal commas and a line of units. The notes and the register are written in that language
too. Between the commands the test fills in what a person fills in: what is empty in campaign.yaml.
"""

import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

import chain

ROOT = Path(__file__).parents[2]
SITE = {
    "name": "Moor",
    "latitude": 45.93,
    "longitude": 14.87,
    "elevation": 310.0,
    "timezone": "Europe/Ljubljana",
}
CARRYING = {"carrier_width": 0.45, "walking_speed": 0.85}
CHANNELS = ("sw_in", "sw_out", "lw_in", "lw_out", "body", "supply")
OF_DEMO = {
    "curlew": (",", ".", 4, ["clock"], "%Y-%m-%d %H:%M:%S"),
    "lapwing": (";", ",", 3, ["day", "time"], "%d.%m.%Y %H:%M:%S"),
}
"""Of the demo's files: delimiter, decimal mark, lines before the data, columns of the time and its format."""


@dataclass(frozen=True)
class Writing:
    """How a country's loggers and people write. head: lines above the names; {} is the logger's name."""

    delimiter: str
    head: tuple[str, ...]
    names: tuple[str, ...]
    time: tuple[str, ...]
    form: str
    encodings: tuple[str, str]
    notes: dict[str, str]
    register: dict[str, str]


GERMAN = Writing(
    "\t",
    ("Standort: Moorwiese", "Datenlogger\t{}\tMesswerte"),
    (
        "Globalstrahlung",
        "Reflexstrahlung",
        "Gegenstrahlung",
        "Ausstrahlung",
        "Gehäusetemperatur",
        "Akkuspannung",
    ),
    ("Datum", "Uhrzeit"),
    "%d.%m.%Y\t%H:%M:%S",
    ("utf-8", "utf-16"),
    {
        **{"date": "Datum", "set": "Gerät", "start": "Beginn", "end": "Ende", "field": "Feld"},
        **{
            "surface": "Oberfläche",
            "activity": "Tätigkeit",
            "heading": "Richtung",
            "logger_shows": "Loggeruhr",
        },
        **{"canopy_height": "Bestandeshöhe", "length": "Länge", "sky": "Himmel", "pass": "Durchgang"},
    },
    {"channel": "Kanal", "factor": "Faktor", "certificate_date": "Kalibrierdatum", "factor_unit": "Einheit"},
)
FRENCH = Writing(
    ";",
    ("Site: tourbière", "Centrale n° de série: {}"),
    (
        "Courtes longueurs d'onde incident",
        "Courtes longueurs d'onde réfléchi",
        "Grandes longueurs d'onde descendant",
        "Grandes longueurs d'onde montant",
        "Température du boîtier",
        "Tension de la pile",
    ),
    ("Date et heure",),
    "%d/%m/%Y %H:%M:%S",
    ("utf-8", "latin-1"),
    {
        **{"date": "Date", "set": "Appareil", "start": "Début", "end": "Fin", "field": "Parcelle"},
        **{
            "surface": "Couverture",
            "activity": "Activité",
            "heading": "Cap",
            "logger_shows": "Heure enregistreur",
        },
        **{"canopy_height": "Hauteur", "length": "Longueur", "sky": "Ciel", "pass": "Passage"},
    },
    {
        "channel": "Canal",
        "factor": "Facteur",
        "certificate_date": "Date du certificat",
        "factor_unit": "Unité",
    },
)
SPANISH = Writing(
    "\t",
    ("Lugar: turbera", "Registrador: {}"),
    (
        "Onda corta entrante",
        "Onda corta saliente",
        "Onda larga entrante",
        "Onda larga saliente",
        "Temperatura del cuerpo",
        "Batería",
    ),
    ("Fecha", "Hora"),
    "%d/%m/%Y\t%H:%M:%S",
    ("utf-16", "utf-8"),
    {
        **{"date": "Fecha", "set": "Equipo", "start": "Inicio", "end": "Fin", "field": "Parcela"},
        **{
            "surface": "Cubierta",
            "activity": "Actividad",
            "heading": "Rumbo",
            "logger_shows": "Reloj registrador",
        },
        **{"canopy_height": "Altura", "length": "Longitud", "sky": "Cielo", "pass": "Pasada"},
    },
    {
        "channel": "Canal",
        "factor": "Factor de calibración",
        "certificate_date": "Fecha",
        "factor_unit": "Unidad",
    },
)


@pytest.fixture(scope="module")
def demo(demo_run):
    assert demo_run.status == 0, demo_run.printed[-3000:]
    return demo_run


def records(name: str) -> tuple[pd.DataFrame, list[str]]:
    """A logger's records of the demo as text with decimal points, with their times, and the units."""
    delimiter, decimal, before, time, form = OF_DEMO[name]
    path = ROOT / "demo_inputs" / "logger" / f"{name}_01.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    rows = pd.DataFrame([line.split(delimiter) for line in lines[before:]], dtype=str)
    moments = pd.to_datetime(rows.iloc[:, : len(time)].agg(" ".join, axis=1), format=form)
    values = rows.iloc[:, len(time) :].map(lambda cell: cell.replace(decimal, "."))
    values.columns = list(CHANNELS)
    units = lines[3].split(delimiter)[1:] if name == "curlew" else ["W m-2"] * 4 + ["°C", "V"]
    return values.assign(moment=moments), units


def write_loggers(folder: Path, writing: Writing) -> None:
    """The records of both loggers as hourly files in one folder, every second file in another encoding."""
    folder.mkdir()
    for name, logger in (("curlew", "C-11"), ("lapwing", "L-24")):
        frame, units = records(name)
        for count, (hour, part) in enumerate(frame.groupby(frame["moment"].dt.hour)):
            lines = [line.format(logger) for line in writing.head]
            lines.append(writing.delimiter.join([*writing.time, *writing.names]))
            lines.append(writing.delimiter.join(["" for _ in writing.time] + units))
            for row in part.to_dict("records"):
                cells = [row[channel].replace(".", ",") for channel in CHANNELS]
                lines.append(writing.delimiter.join([row["moment"].strftime(writing.form), *cells]))
            encoding = writing.encodings[count % 2]
            text = "\n".join(lines) + "\n"
            (folder / f"{name}_{hour:02d}.txt").write_bytes(text.encode(encoding))


def write_tables(folder: Path, writing: Writing) -> None:
    """Notes, register and weather as a spreadsheet of that country saves them."""
    date = writing.form.split("\t")[0].split(" ")[0]
    notes = pd.read_csv(ROOT / "demo_inputs" / "notes.csv", dtype=str, keep_default_na=False)
    notes["date"] = pd.to_datetime(notes["date"]).dt.strftime(date)
    for column in ("start", "end", "logger_shows"):
        notes[column] = notes[column].str.replace(":", ".")
    for column in ("heading", "speed", "length", "canopy_height"):
        notes[column] = notes[column].str.replace(".", ",")
    notes.rename(columns=writing.notes).to_csv(folder / "notes.csv", sep=";", index=False)
    (folder / "notes.xlsx").unlink()
    register = pd.read_csv(ROOT / "demo_inputs" / "instruments.csv", dtype=str, keep_default_na=False)
    register["certificate_date"] = pd.to_datetime(register["certificate_date"]).dt.strftime(date)
    for column in ("factor", "programmed_factor"):
        register[column] = register[column].str.replace(".", ",")
    register.rename(columns=writing.register).to_csv(folder / "instruments.csv", sep=";", index=False)
    weather = pd.read_csv(ROOT / "demo_inputs" / "weather.csv")
    weather.to_csv(folder / "weather.csv", sep=";", decimal=",", index=False)


def fill_in(folder: Path) -> None:
    """What a person fills in: place, clocks, carrying; and that the shortwave of one logger is in W m-2."""
    path = folder / "campaign.yaml"
    text = path.read_text(encoding="utf-8")
    for key, value in SITE.items():
        text = re.sub(rf"(?m)^  {key}: +#", f"  {key}: {value}   #", text)
    for key, value in CARRYING.items():
        text = re.sub(rf"(?m)^  {key}: [\d.]+", f"  {key}: {value}", text)
    for offset in ("+01:00", "+00:00"):
        text = re.sub(r"(?m)^    utc_offset: +#", f'    utc_offset: "{offset}"   #', text, count=1)
    path.write_text(text, encoding="utf-8")


def command(*words) -> str:
    run = subprocess.run(
        [sys.executable, ROOT / "scripts" / "verbs" / "new.py", *words], capture_output=True, text=True
    )
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


@pytest.mark.parametrize("writing", [GERMAN, FRENCH, SPANISH], ids=["German", "French", "Spanish"])
def test_from_nothing_to_right_numbers(project, demo, tmp_path, writing):
    write_loggers(tmp_path / "off the loggers", writing)
    day = tmp_path / "day"
    # 1: headland new day --from-file "off the loggers"
    said = command("--folder", day, "--shown", "day", "--from-file", tmp_path / "off the loggers")
    assert "Set curlew" in said and "Set lapwing" in said and "--preview" in said
    assert f"sw_in [mV] = {writing.names[0]}" in said
    fill_in(day)
    write_tables(day, writing)
    # 2: headland new day --preview
    said = command("--folder", day, "--shown", "day", "--preview", "yes")
    assert "error" not in said and "2025-08-20 09:48:04Z  " in said and "2025-08-20 11:48:04" in said
    assert f"body_temperature [degC] = {writing.names[4]}" in said
    # 3: headland report day
    found, own = worked_out(project, day, tmp_path / "results", by_rules=writing is GERMAN)
    wanted = demo.table("surfaces").set_index("surface")
    assert found("error") == demo.codes("error")
    assert found("note").count("table-as-written") >= 3
    for quantity in ("sw_in", "albedo", "lw_in", "surface_temperature", "net_radiation", "latent_heat"):
        np.testing.assert_allclose(
            own[quantity], wanted.loc[own.index, quantity], atol=0.02, err_msg=quantity
        )


def worked_out(project, day, results, *, by_rules: bool):
    """Codes of findings by severity, and the table of surfaces; of one language by the rules themselves."""
    if not by_rules:
        outcome = chain.run(day, draws=64)
        return outcome.codes, outcome.result.surfaces.set_index("surface")
    run = project.run(day, results, draws=64)
    assert run.status == 0, run.printed[-3000:]
    return run.codes, run.table("surfaces").set_index("surface")
