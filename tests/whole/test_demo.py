"""The demo campaign: against its truth, and read by an open standard's own reader. That two runs give equal
bytes is in `test_follow`.
"""

import json
import subprocess
import sys
from pathlib import Path

import frictionless
import numpy as np
import pandas as pd
import pypdf
import pytest

from columns import COLUMNS
from columns import SEVEN as MEASURED
from headland.files import tables
from independent.compared import compared

ROOT = Path(__file__).parents[2]
TRUTH = ROOT / "demo_inputs" / "truth"


@pytest.fixture(scope="module")
def demo(demo_run):
    assert demo_run.status == 0, demo_run.printed[-3000:]
    return demo_run


@pytest.mark.parametrize("name", COLUMNS)
def test_every_column_is_there_in_order(demo, name):
    header = (demo.folder / f"{name}.csv").read_text(encoding="utf-8").splitlines()[0]
    assert header.split(",") == COLUMNS[name]


def test_no_alarm(demo):
    assert demo.codes("error", "warning") == []


@pytest.mark.parametrize(
    "name, keys",
    [("segments", ["notes_row", "set"]), ("fields", ["surface", "field"]), ("surfaces", ["surface"])],
)
def test_intervals_hold_the_truth(demo, name, keys):
    """Of 95 % intervals at least 85 % in one campaign: errors are shared, so misses come together."""
    truth = pd.read_csv(TRUTH / f"{name}.csv")
    both = demo.table(name).merge(truth, on=keys, suffixes=("", "_true"), validate="one_to_one")
    assert len(both) == len(truth)
    inside = [
        both[f"{q}_whole" if f"{q}_whole" in both else f"{q}_true"].between(
            both[f"{q}_low"], both[f"{q}_high"]
        )
        for q in MEASURED
    ]
    assert np.mean(np.concatenate(inside)) >= 0.85


def test_values_are_near_the_truth(demo):
    """Not by wide intervals alone.

    Albedo within 0.02, surface temperature within 1 K, net radiation within 25 W m-2 of the truth for every
    surface.
    """
    both = demo.table("surfaces").merge(
        pd.read_csv(TRUTH / "surfaces.csv"), on="surface", suffixes=("", "_true")
    )
    for quantity, limit in (("albedo", 0.02), ("surface_temperature", 1.0), ("net_radiation", 25.0)):
        assert (both[quantity] - both[f"{quantity}_true"]).abs().max() < limit, quantity


def test_values_that_practice_supplies(demo):
    """Common practice, no source.

    Grass reflects about 120 of 850 W m-2; raw longwave near -100 upward and near 0 downward, the body near 23
    degC.
    """
    grass = demo.table("segments").query("surface == 'short_grass' and sw_in > 700")
    assert (grass["sw_out"] / grass["sw_in"] * 850).between(100, 160).all() and len(grass)
    means = tables.read_table(demo.folder / "steps" / "6_summarise" / "segments.csv", "segment_means")
    green = means[
        means["surface"].isin(["short_grass", "tall_crop"])
    ]  # hot paving is far above the body's temperature
    assert means["lw_in_net"].between(-130, -70).all() and green["lw_out_net"].between(-25, 25).all()
    assert means["body_temperature"].between(20, 27).all()


def test_rows_in_are_rows_out(demo):
    """Nothing is dropped: each step has as many samples as the one before."""
    for name in ("curlew", "lapwing"):
        counts = {
            step: len((demo.folder / "steps" / step / f"{name}.csv").read_text(encoding="utf-8").splitlines())
            for step in ("1_ingest", "2_calibrate", "3_correct_longwave", "4_screen", "5_segment")
        }
        assert len(set(counts.values())) == 1, counts


def test_the_balance_closes(demo):
    rows = demo.table("surfaces").dropna(subset=["latent_heat"])
    assert len(rows)
    np.testing.assert_allclose(
        rows["net_radiation"], rows["ground_heat"] + rows["sensible_heat"] + rows["latent_heat"], atol=0.02
    )


def test_the_package_is_accepted_by_the_open_standards_own_reader(demo):
    report = frictionless.Package(str(demo.folder / "datapackage.json")).validate()
    assert report.valid, report.flatten(["type", "message"])
    described = {
        r["name"]: [f["name"] for f in r["schema"]["fields"]]
        for r in json.loads((demo.folder / "datapackage.json").read_text())["resources"]
    }
    assert described == {name.replace("_", "-"): columns for name, columns in COLUMNS.items()}


def test_the_place_of_the_run_is_in_no_result(demo):
    for path in demo.folder.rglob("*"):
        if path.suffix in (".csv", ".html", ".json", ".svg", ".pdf"):
            assert str(demo.project).encode() not in path.read_bytes(), path.name


# Archive ----------------------------------------------------------------------------------------------------
# ---------


def test_the_archive_is_intact_and_has_the_same_bytes_each_time(project, demo, tmp_path):
    """Packed from what the chain left, twice; accepted by the verifier, which needs no library, and by
    the readers of two of its standards.
    """
    import zipfile

    made = [path for path in sorted(demo.folder.rglob("*")) if path.is_file() and path.suffix != ".log"]
    files = [tmp_path / "one.zip", tmp_path / "two.zip"]
    for file in files:
        subprocess.run(
            [
                sys.executable,
                ROOT / "scripts/verbs/archive.py",
                "--campaign",
                project.folder / "demo_inputs",
                "--results",
                demo.folder,
                "--out",
                file,
                "--made",
                *made,
            ],
            check=True,
            capture_output=True,
        )
    assert files[0].read_bytes() == files[1].read_bytes()
    verified = subprocess.run(
        [sys.executable, ROOT / "scripts/verbs/verify.py", files[0]], capture_output=True, text=True
    )
    assert verified.returncode == 0 and "Intact and complete" in verified.stdout, verified.stdout
    with zipfile.ZipFile(files[0]) as archive:
        archive.extractall(tmp_path)
        names = set(archive.namelist())
    assert not any("truth" in name and "/inputs/" in name for name in names)
    report = frictionless.Package(str(tmp_path / "demo-inputs/data/datapackage.json")).validate()
    assert report.valid, report.flatten(["name", "type", "message"])[:5]


def test_a_second_computation_gives_the_same_values_and_intervals(demo):
    """`tests/independent` was written from docs/method.md alone. With 10000 draws a half width is right to
    about 1 % (one standard deviation), and so are those of the report.
    """
    rows = compared(ROOT / "demo_inputs", ROOT / "config", demo.folder, draws=10000)
    assert len(rows) == 585
    apart = [
        f"{row.table} {row.name} {row.quantity}: {row.off:+.3f} half widths, ratio {row.ratio:.3f}"
        for row in rows
        if not row.near or abs(row.ratio - 1.0) > 0.06
    ]
    assert not apart, "\n".join(apart)


def test_the_second_computation_shares_no_code_with_the_package():
    files = sorted((ROOT / "tests" / "independent").glob("*.py"))
    assert len(files) >= 8
    assert [path.name for path in files if "headland" in path.read_text(encoding="utf-8")] == []


def test_its_report_has_eight_pages(demo):
    report = demo.folder / "report.pdf"
    if not report.exists():
        pytest.skip("no PDF without Pango")
    assert len(pypdf.PdfReader(report).pages) == 8
