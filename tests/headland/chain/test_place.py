"""Places by track and outlines: geometry against closed forms, readers against what may stand in a file,
notes against simulated walks.
"""

import io
import json

import numpy as np
import pandas as pd
import pytest
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

import chain
from headland.base.times import since_1970
from headland.chain import place
from headland.files import geojson, gpx, unfit
from headland.physics import plane
from headland.report import figures_map
from simulate import mistakes_across, specs, tracks
from simulate.campaign import simulate

SQUARE = [np.array([[0.0, 0.0], [100.0, 0.0], [100.0, 60.0], [0.0, 60.0], [0.0, 0.0]])]
HOLE = np.array([[40.0, 20.0], [60.0, 20.0], [60.0, 40.0], [40.0, 40.0], [40.0, 20.0]])


def test_inside_and_distance():
    x, y = np.array([50.0, 50.0, -3.0, 104.0, 50.0]), np.array([30.0, 10.0, 30.0, 63.0, 61.0])
    assert plane.inside(x, y, SQUARE).tolist() == [True, True, False, False, False]
    assert plane.inside(x, y, [*SQUARE, HOLE]).tolist() == [False, True, False, False, False]
    np.testing.assert_allclose(
        plane.edge_distance(x, y, SQUARE), [30.0, 10.0, 3.0, 5.0, 1.0]
    )  # 3-4-5 at the corner
    np.testing.assert_allclose(plane.edge_distance(x[:1], y[:1], [*SQUARE, HOLE]), [10.0])


def test_distance_from_outlines_of_many_corners():
    """Sides cut in many edges are the same sides; a circle of many corners is its radius (closed form); where
    nothing is known, nothing is near.
    """
    along = np.linspace(0.0, 1.0, 501)[:-1, None]
    sides = [start + along * (end - start) for start, end in zip(SQUARE[0][:-1], SQUARE[0][1:], strict=True)]
    cut = np.concatenate([*sides, SQUARE[0][:1]])
    x, y = (
        part.ravel() for part in np.meshgrid(np.linspace(-300.0, 400.0, 61), np.linspace(-90.0, 150.0, 41))
    )
    for rings in (SQUARE, [*SQUARE, HOLE]):
        np.testing.assert_allclose(
            plane.edge_distance(x, y, [cut, *rings[1:]]), plane.edge_distance(x, y, rings), atol=1e-9
        )
    turn = np.radians(np.linspace(0.0, 360.0, 3601))
    circle = np.column_stack([80.0 * np.cos(turn), 80.0 * np.sin(turn)])
    np.testing.assert_allclose(
        plane.edge_distance(x, y, [circle]),
        np.abs(np.hypot(x, y) - 80.0),
        atol=80.0 * (1 - np.cos(turn[1] / 2)),
    )
    assert plane.edge_distance(np.array([np.nan]), np.array([5.0]), [circle]).tolist() == [np.inf]


@pytest.mark.parametrize("latitude", [0.0, 46.9, -33.0, 69.0])
def test_projection_against_earth_centred_axes(latitude):
    x, y = np.array([0.0, 400.0, -250.0]), np.array([0.0, 120.0, -380.0])
    lon, lat = tracks.degrees(x, y, latitude, 179.999)
    east, north = plane.projected(lon, lat, (179.999, latitude))
    assert (
        np.hypot(east - x, north - y).max() < 0.05
    )  # 0.4 km away, the plane's own bend is x y tan(latitude) / R


def test_along_a_transect():
    x = np.linspace(0.0, 80.0, 101)
    np.testing.assert_allclose(plane.along(10 - 0.6 * x, 5 + 0.8 * x), x, atol=1e-9)
    rng = np.random.default_rng(1)
    noisy = plane.along(x + tracks.wandering(rng, 101, 1.0, 3.0), tracks.wandering(rng, 101, 1.0, 3.0))
    assert np.all(np.diff(noisy) >= 0) and abs(noisy[-1] - 80.0) < 12.0


POINT = '<trkpt lat="46.9" lon="7.1"><time>2026-05-21T09:30:00Z</time></trkpt>'


def as_gpx(body, head=""):
    return io.BytesIO(
        f'<?xml version="1.0"?>\n{head}<gpx xmlns="http://www.topografix.com/GPX/1/1">'
        f"<trk><trkseg>\n{body}\n</trkseg></trk></gpx>".encode()
    )


def test_track_is_read():
    later = POINT.replace("09:30:00Z", "11:30:05.5+02:00")
    frame, found = gpx.read_track(as_gpx(later + POINT + POINT + '<trkpt lat="1" lon="2"/>'), "track.gpx")
    assert frame["seconds"].diff().tolist()[1:] == [5.5] and frame["latitude"].tolist() == [46.9, 46.9]
    assert [(f.code, f.facts["count"]) for f in found] == [("track-points-dropped", 1)]


@pytest.mark.parametrize(
    "stream, line, words",
    [
        (as_gpx(POINT, '<!DOCTYPE gpx [<!ENTITY a "b">]>'), 2, "document type"),
        (as_gpx(POINT, '<!DOCTYPE gpx SYSTEM "file:///etc/hostname">'), 2, "document type"),
        (as_gpx(POINT.replace("46.9", "146.9")), 3, "place on Earth"),
        (as_gpx(POINT.replace("46.9", "nan")), 3, "place on Earth"),
        (as_gpx(POINT.replace("2026-05-21T09:30:00Z", "noon")), 3, "noon"),
        (as_gpx(POINT[:-3]), 4, "no XML"),
        (as_gpx(""), None, "no point"),
        (as_gpx("<a>" * 60 + "</a>" * 60), 3, "nested"),
        (io.BytesIO(b"<kml></kml>"), 1, "kml"),
        (io.BytesIO(b""), 1, "no XML"),
        (io.BytesIO(b'<?xml version="1.0" encoding="no-such"?><gpx/>'), None, "encoding"),
    ],
)
def test_track_is_refused_in_a_plain_line(stream, line, words):
    frame, found = gpx.read_track(stream, "track.gpx")
    assert not len(frame) and [(f.code, f.file, f.line) for f in found] == [
        ("table-unreadable", "track.gpx", line)
    ]
    assert words in found[0].facts["found"]


def test_too_large_a_file_is_refused(monkeypatch):
    monkeypatch.setattr(unfit, "LARGEST", 100)
    assert "larger" in gpx.read_track(as_gpx(POINT), "t")[1][0].facts["found"]
    monkeypatch.setattr(geojson, "LARGEST", 100)
    assert "larger" in geojson.read_outlines(io.BytesIO(b" " * 101), "t", "field")[1][0].facts["found"]


def collection(**changes):
    feature = {
        "type": "Feature",
        "properties": {"field": "Fen"},
        "geometry": {"type": "Polygon", "coordinates": [[[7, 46], [7.1, 46], [7.1, 46.1], [7, 46]]]},
    } | changes
    return json.dumps({"type": "FeatureCollection", "features": [feature]}, indent=1)


@pytest.mark.parametrize(
    "text, line, words",
    [
        ("{", 1, "no JSON"),
        ("[]", None, "features"),
        ('{"features": []}', None, "features"),
        ("[" * 100_000, None, "nested"),
        (collection(properties=None), 5, "field"),
        (collection(properties={"field": 7}), 5, "field"),
        (collection(geometry={"type": "Point", "coordinates": [7, 46]}), 5, "no area"),
        *[
            (collection(geometry={"type": "Polygon", "coordinates": c}), 5, "closed ring")
            for c in (
                [],
                None,
                3,
                [[]],
                [[[7, 46], [7.1, 46], [7.1, 46.1], [7, 46.2]]],
                [[["a", 1]] * 4],
                [[[2600000, 1200000]] * 4],
                [[[float("nan"), 1.0]] * 4],
                [[[10**400, 1]] * 4],
            )
        ],
        (collection(geometry={"type": "MultiPolygon", "coordinates": None}), 5, "closed ring"),
    ],
)
def test_outlines_are_refused_in_a_plain_line(text, line, words):
    fields, found = geojson.read_outlines(io.BytesIO(text.encode()), "fields.geojson", "field")
    assert (
        not fields
        and [(f.code, f.line) for f in found] == [("table-unreadable", line)]
        and words in found[0].facts["found"]
    )


def test_outlines_are_read():
    fields, found = geojson.read_outlines(io.BytesIO(collection().encode()), "fields.geojson", "field")
    assert list(fields) == ["Fen"] and not found and fields["Fen"][0].shape == (4, 2)


def test_field_by_place_is_the_true_one_outside_the_guards():
    """Two fields side by side, walked across their border and along it, with an error of 3 m: at least 99 %
    of samples outside the guards are right.
    """
    east = [np.array([[100.0, 0.0], [200.0, 0.0], [200.0, 60.0], [100.0, 60.0], [100.0, 0.0]])]
    fields, right, count, kept = {"west": SQUARE, "east": east}, 0, 0, 0
    for seed in range(40):
        rng = np.random.default_rng(seed)
        time = np.arange(0.0, 1200.0)
        x = 100 + 50 / np.pi * np.arcsin(
            np.sin(time / 60 + rng.uniform(0, 6))
        )  # evenly to 25 m on either side of the border
        y = 30 + 10 * np.sin(time / 90 + rng.uniform(0, 6))
        lon, lat = tracks.degrees(
            x + tracks.wandering(rng, len(x), 1.0, 3.0),
            y + tracks.wandering(rng, len(x), 1.0, 3.0),
            46.9,
            7.1,
        )
        found = place.places(
            time, pd.DataFrame({"seconds": time, "longitude": lon, "latitude": lat}), fields, (7.1, 46.9)
        )
        clear = (found["edge_distance"] > place.guard(1.5, 3.0)).to_numpy()
        right += (found["field"].to_numpy() == np.where(x < 100, "west", "east"))[clear].sum()
        count, kept = count + clear.sum(), kept + len(time)
    assert count > 0.2 * kept
    assert right >= 0.99 * count


@pytest.fixture(scope="module")
def campaign():
    return simulate(specs.sound(3))


PLACE = ("place-disagrees", "place-unknown", "table-unreadable", "segment-unused")


def codes(folder):
    return [f for _, f in chain.run(folder, to="segment").found if f.code in PLACE]


def test_wrong_label_is_named_with_set_line_and_field(campaign, tmp_path):
    tracks.write(campaign, tmp_path)
    assert codes(tmp_path) == []
    row = next(i for i, n in campaign.notes.iterrows() if n["field"] == "Field 1")
    wrong = mistakes_across.note_changed(campaign, row, field="Field 2")
    tracks.write(wrong, tmp_path)
    found = codes(tmp_path)
    assert [(f.code, f.set, f.line, f.facts["field"], f.facts["place"], f.file) for f in found] == [
        ("place-disagrees", campaign.notes["set"][row], row + 2, "Field 2", "Field 1", "notes.csv")
    ]
    assert found[0].start_utc < found[0].end_utc
    segments = chain.run(tmp_path, to="summarise").segments.set_index("notes_row")
    assert (
        np.isnan(segments.loc[row + 2, "albedo"])
        and segments.loc[row + 2, "sw_in"] > 0
        and segments["albedo"].notna().sum() == len(segments[segments["albedo_sw_in"] > 0])
    )


def test_positions_are_those_of_the_track(campaign, tmp_path):
    tracks.write(campaign, tmp_path, error=0.0)
    outcome = chain.run(tmp_path, to="segment")
    walk = outcome.noted[outcome.noted["activity"].isin(["", "walk"])].iloc[0]
    frame = outcome.samples[walk["set"]]
    mine = frame[frame["segment"] == walk["segment"]]
    length = next(f.length for f in campaign.spec.fields if f.name == walk["field"])
    assert mine["position"].iloc[-1] == pytest.approx(length, abs=4.0)
    assert mine["flags"].str.contains("edge").mean() < 0.5


def test_the_map_shows_fields_length_north_and_readable_text(campaign, tmp_path):
    tracks.write(campaign, tmp_path)
    outcome = chain.run(tmp_path, to="segment")
    with (tmp_path / "fields.geojson").open("rb") as stream:
        outlines, origin = plane.on_plane(geojson.read_outlines(stream, "fields.geojson", "field")[0])
    outlines, located = {f"{name} by the old brook": rings for name, rings in outlines.items()}, {}
    for name, frame in outcome.samples.items():
        track, _ = gpx.read_track(io.BytesIO((tmp_path / f"track_{name}.gpx").read_bytes()), "")
        located[name] = place.places(since_1970(frame["middle_utc"]), track, outlines, origin)
    walked = figures_map.Walked(
        outcome.samples,
        located,
        {n: (f["flags"] != "").to_numpy() for n, f in outcome.samples.items()},
        {segment: 0.97 for segment in outcome.noted["segment"]},
    )
    figure = figures_map.walks_map(walked, outlines, place.guard(1.5, 3.0))
    texts = [text for text in figure.findobj(Text) if text.get_text() and text.get_visible()]
    words = {text.get_text() for text in texts}
    assert {"N", "100 m", "guard", *outlines, *outcome.samples} <= words and words & {
        "albedo",
        "surface temperature, °C",
    }
    assert min(text.get_fontsize() for text in texts) >= 8.0
    drawn_by = FigureCanvasAgg(figure).get_renderer()
    boxes = [text.get_window_extent(drawn_by) for text in texts if text.get_text() in outlines]
    assert (
        min(box.x0 for box in boxes) >= 0 and max(box.x1 for box in boxes) <= figure.bbox.x1
    )  # a name at the rim is not cut
    for axes in figure.axes:  # nothing is drawn beside the paper
        box = axes.get_position()
        assert 0.0 <= box.x0 < box.x1 <= 1.0 and 0.0 <= box.y0 < box.y1 <= 1.0
    unused = walked._replace(excluded={name: np.ones(len(f), bool) for name, f in outcome.samples.items()})
    empty = figures_map.walks_map(unused, outlines, 4.5)
    assert [text.get_text() for text in empty.findobj(Text) if text.get_text()] == [
        "No sample that counts has a place."
    ]


def test_missing_or_unfit_files_change_nothing(campaign, tmp_path):
    campaign.write(tmp_path)
    plain = chain.run(tmp_path, to="segment")
    assert not [f for f in plain.found if f[1].code in PLACE]
    (tmp_path / "fields.geojson").write_bytes(tracks.outlines(campaign))
    half = chain.run(tmp_path, to="segment")
    assert [f.variant for f in codes(tmp_path)] == ["one-file"]
    (tmp_path / "track.gpx").write_bytes(b"<kml/>")
    unfit = chain.run(tmp_path, to="segment")
    for other in (half, unfit):
        for name in plain.samples:
            pd.testing.assert_frame_equal(plain.samples[name], other.samples[name])


@pytest.mark.study
@pytest.mark.parametrize("seed", range(20))
def test_sound_campaigns_with_tracks_raise_nothing(seed, tmp_path):
    tracks.write(simulate(specs.sound(seed)), tmp_path)
    assert codes(tmp_path) == []
