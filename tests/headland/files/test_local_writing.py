"""Tables as people of different countries write them are read alike, and one note says how."""

import datetime

import openpyxl
import pytest

from headland.files import local_writing
from headland.files.schemas import table_schema
from headland.files.user_tables import read_user_table
from headland.files.workbooks import cell_text

NOTES = {
    "plain": "date,set,start,end,field,surface,heading\n2026-05-21,heron,09:31,24:00,Mill,stubble,80.5\n",
    "German": "Datum;Gerät;Beginn;Ende;Feld;Oberfläche;Richtung\n"
    "21.05.2026;heron;9.31;24:00;Mill;stubble;80,5\n",
    "French": "Date;Appareil;Début;Fin;Parcelle;Couverture;Cap\n"
    "21/05/2026;heron;9h31;24h00;Mill;stubble;80,5\n",
    "Spanish": "Fecha\tEquipo\tInicio\tFin\tParcela\tCubierta\tRumbo\n"
    "21/05/2026\theron\t09.31\t24.00\tMill\tstubble\t80,5\n",
    "Italian": "Data;Strumento;Inizio;Fine;Campo;Copertura;Direzione\n"
    "21-05-2026;heron;09.31;24.00;Mill;stubble;80,5\n",
    "Dutch": "Datum;Toestel;Begin;Einde;Veld;Bedekking;Richting\n"
    "21-05-2026;heron;09.31;24.00;Mill;stubble;80,5\n",
}
WANTED = ["2026-05-21", "heron", "09:31", "24:00", "Mill", "stubble", 80.5]


@pytest.mark.parametrize("language", NOTES)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-16", "latin-1"])
def test_notes_of_six_languages_are_the_same_notes(tmp_path, language, encoding):
    path = tmp_path / "notes.csv"
    path.write_bytes(NOTES[language].encode(encoding))
    frame, found = read_user_table(path, "notes")
    assert frame.iloc[0][["date", "set", "start", "end", "field", "surface", "heading"]].tolist() == WANTED
    codes = [finding.code for finding in found]
    assert codes.count("table-as-written") == (language != "plain")
    assert set(codes) <= {"table-as-written", "wrong-delimiter", "wrong-encoding"}


def test_a_workbook_is_read_like_a_table(tmp_path):
    book = openpyxl.Workbook()
    book.active.append(["Datum", "Gerät", "Beginn", "Ende", "Feld", "Oberfläche", "Richtung"])
    book.active.append(
        [datetime.date(2026, 5, 21), "heron", datetime.time(9, 31), "24.00", "Mill", "stubble", "80,5"]
    )
    book.save(tmp_path / "notes.xlsx")
    frame, _ = read_user_table(tmp_path / "notes.xlsx", "notes")
    wanted = [*WANTED[:2], cell_text(datetime.time(9, 31)), *WANTED[3:]]
    assert frame.iloc[0][["date", "set", "start", "end", "field", "surface", "heading"]].tolist() == wanted


def test_register_and_weather_read_decimal_commas_and_local_dates(tmp_path):
    register = tmp_path / "instruments.csv"
    register.write_text(
        "set;logger_id;Kanal;Seriennummer;Faktor;Einheit;Kalibrierdatum\n"
        "heron;L-07;sw_in;S1;66,89;W m-2 per mV;31.01.2025\n",
        encoding="utf-8",
    )
    frame, _ = read_user_table(register, "instruments")
    assert frame.iloc[0][["channel", "sensor_id", "factor", "certificate_date"]].tolist() == [
        "sw_in",
        "S1",
        66.89,
        "2025-01-31",
    ]
    weather = tmp_path / "weather.csv"
    weather.write_text("Zeit UTC;Lufttemperatur [°C]\n21.05.2026 09:30:00;18,5\n", encoding="utf-8")
    frame, _ = read_user_table(weather, "weather")
    assert frame.iloc[0][["time_utc", "air_temperature"]].tolist() == ["2026-05-21 09:30:00", 18.5]


GROUND = {
    "German": "Zeit UTC;Feld;Bodenwärmestrom [W/m²];Tiefe [m];Bodentemperatur [°C];Bodenfeuchte",
    "French": "Heure UTC;Parcelle;Flux de chaleur dans le sol;Profondeur;Température du sol;Humidité du sol",
    "Spanish": "Hora UTC;Parcela;Flujo de calor del suelo;Profundidad;Temperatura suelo;Humedad del suelo",
    "Italian": "Ora UTC;Campo;Flusso di calore nel suolo;Profondità;Temperatura del suolo;Umidità del suolo",
    "Dutch": "Tijd UTC;Veld;Bodemwarmtestroom;Diepte;Bodemtemperatuur;Bodemvocht",
}


@pytest.mark.parametrize("language", GROUND)
def test_plates_in_the_soil_of_five_languages_are_the_same(tmp_path, language):
    path = tmp_path / "ground.csv"
    path.write_text(GROUND[language] + "\n21.05.2026 09:30:00;Mill;45,5;0,08;18,2;0,21\n", encoding="utf-8")
    frame, found = read_user_table(path, "ground")
    columns = ["time_utc", "field", "soil_heat_flux", "depth", "soil_temperature", "soil_moisture"]
    assert frame.iloc[0][columns].tolist() == ["2026-05-21 09:30:00", "Mill", 45.5, 0.08, 18.2, 0.21]
    assert [finding.code for finding in found] == ["wrong-delimiter", "table-as-written"]


LEVELS = {
    "German": "Zeit UTC;Höhe unten;Höhe oben;Lufttemperatur unten;Lufttemperatur oben;Dampfdruck unten;"
    "Dampfdruck oben",
    "French": "Heure UTC;Hauteur en bas;Hauteur en haut;Température en bas;Température en haut;"
    "Pression de vapeur en bas;Pression de vapeur en haut",
    "Spanish": "Hora UTC;Altura abajo;Altura arriba;Temperatura abajo;Temperatura arriba;"
    "Presión de vapor abajo;Presión de vapor arriba",
    "Italian": "Ora UTC;Altezza sotto;Altezza sopra;Temperatura sotto;Temperatura sopra;"
    "Pressione di vapore sotto;Pressione di vapore sopra",
    "Dutch": "Tijd UTC;Hoogte onder;Hoogte boven;Luchttemperatuur onder;Luchttemperatuur boven;"
    "Dampdruk onder;Dampdruk boven",
}


@pytest.mark.parametrize("language", LEVELS)
def test_two_heights_of_five_languages_are_the_same(tmp_path, language):
    path = tmp_path / "levels.csv"
    path.write_text(LEVELS[language] + "\n2026-05-21T09:30:00Z;0,5;2;21,4;20,9;12,3;11,8\n", encoding="utf-8")
    frame, found = read_user_table(path, "levels")
    pairs = [
        f"{side}_{name}"
        for name in ("height", "air_temperature", "vapour_pressure")
        for side in ("lower", "upper")
    ]
    assert frame.iloc[0][pairs].tolist() == [0.5, 2.0, 21.4, 20.9, 12.3, 11.8]
    assert [finding.code for finding in found] == ["wrong-delimiter", "table-as-written"]


def test_no_word_means_two_columns_of_a_table():
    """Nor does a word take the name of another column."""
    rows = local_writing.config_rows(local_writing.WORDS)
    for kind in {row["table"] for row in rows}:
        own = [row for row in rows if row["table"] == kind]
        names = {field["name"] for field in table_schema(kind)["fields"]}
        assert {row["column"] for row in own} <= names
        words = [local_writing._plain(row["word"]) for row in own]
        meant = dict(zip(words, (row["column"] for row in own), strict=True))
        assert all(meant[word] == row["column"] for word, row in zip(words, own, strict=True))
        others = {local_writing._plain(name): name for name in names}
        assert all(others.get(word, column) == column for word, column in meant.items())


@pytest.mark.parametrize(
    "text, day_first, wanted",
    [
        ("21.05.2026", None, "2026-05-21"),
        ("1.5.26", None, "2026-05-01"),
        ("21/05/2026", True, "2026-05-21"),
        ("05/21/2026", False, "2026-05-21"),
        ("05/06/2026", None, "05/06/2026"),
        ("31.13.2026", None, "31.13.2026"),
        ("2026-05-21", None, "2026-05-21"),
    ],
)
def test_dates(text, day_first, wanted):
    assert local_writing.date(text, day_first) == wanted


@pytest.mark.parametrize(
    "text, wanted",
    [("1,5", "1.5"), ("1.204,5", "1204.5"), ("1,2,3", "1,2,3"), ("1.5", "1.5"), (",5", ".5"), ("", "")],
)
def test_numbers(text, wanted):
    assert local_writing.number(text) == wanted


@pytest.mark.parametrize(
    "text, wanted",
    [("9.31", "09:31"), ("9h31", "09:31"), ("09.31.20", "09:31:20"), ("09:31", "09:31"), ("9.75", "9.75")],
)
def test_times_of_day(text, wanted):
    assert local_writing.clock(text) == wanted


def test_every_word_names_a_column_of_its_table():
    for row in local_writing.config_rows(local_writing.WORDS):
        names = [field["name"] for field in table_schema(row["table"])["fields"]]
        assert row["column"] in [*names, "width"], row


def test_a_column_that_is_ours_is_never_replaced():
    columns, renamed = local_writing.columns_of(["Beginn", "start"], "notes", ["start", "end"])
    assert columns == ["Beginn", "start"] and renamed == {}
