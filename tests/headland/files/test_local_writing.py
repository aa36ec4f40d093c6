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
