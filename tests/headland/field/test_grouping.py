"""Files of a sample that belong to one set, and previews of them."""

import pytest

from headland.base.errors import UserErrors
from headland.field import grouping, preview


def logged(path, logger="", start=0, delimiter=",", columns="time,SW_in,SW_out,LW_in,LW_out,T_body"):
    head = f"Logger: {logger}\n" if logger else ""
    rows = "".join(
        delimiter.join(
            [f"2026-05-21 10:{start:02d}:{k:02d}", f"{800 + k}", "160.5", "-100.2", "12.1", "21.3"]
        )
        + "\n"
        for k in range(20)
    )
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(head + columns.replace(",", delimiter) + "\n" + rows)
    return path


def names(groups):
    return {group.name: [path.name for path in group.files] for group in groups}


def test_files_of_one_name_are_one_set_and_others_are_others(tmp_path):
    for name in ("heron_01.csv", "heron_02.csv", "plover_01.csv"):
        logged(tmp_path / name, start=int(name[-5]))
    groups, left = grouping.grouped([tmp_path])
    assert (
        names(groups) == {"heron": ["heron_01.csv", "heron_02.csv"], "plover": ["plover_01.csv"]}
        and left == []
    )


def test_other_columns_or_another_delimiter_are_another_set(tmp_path):
    logged(tmp_path / "heron_01.csv")
    logged(tmp_path / "heron_02.csv", delimiter=";")
    groups, _ = grouping.grouped([tmp_path])
    assert len(groups) == 2 and groups[0].name == "heron" and groups[1].name.startswith("set_")


def test_what_holds_no_rows_is_named_beside_what_does(tmp_path):
    logged(tmp_path / "heron_01.csv")
    (tmp_path / "readme.txt").write_text("nothing\n")
    groups, left = grouping.grouped([tmp_path])
    assert list(names(groups)) == ["heron"] and left == ["readme.txt: no rows of numbers found in it"]
    with pytest.raises(UserErrors, match="readme.txt"):
        grouping.grouped([tmp_path / "heron_01.csv", tmp_path / "readme.txt"])
    with pytest.raises(UserErrors, match="no such file or folder"):
        grouping.grouped([tmp_path / "nothing"])


@pytest.mark.parametrize(
    "name, stem",
    [("heron_01.csv", "heron"), ("heron-2026-05-21.dat", "heron"), ("a b 7.csv", "a b"), ("01.csv", "")],
)
def test_the_beginning_of_a_name(tmp_path, name, stem):
    assert grouping.stem_of(tmp_path / name) == stem


def test_a_set_s_name_has_letters_and_is_its_own(tmp_path):
    assert grouping.set_name(tmp_path / "my set_1.csv", []) == "my-set"
    assert grouping.set_name(tmp_path / "01.csv", ["x"]) == "set_b"
    assert grouping.set_name(tmp_path / "heron_1.csv", ["heron"]) == "set_b"
    assert len(grouping.set_name(tmp_path / ("x" * 50 + ".csv"), [])) == 30


def test_a_preview_shows_the_first_rows_under_their_channels(tmp_path):
    logged(tmp_path / "heron_01.csv")
    (group,), _ = grouping.grouped([tmp_path / "heron_01.csv"])
    lines = preview.of_sample(group.found)
    by_head = {line.split("  ")[1].strip(): line.split() for line in lines}
    assert any("2026-05-21" in line and "10:00:01" in line for line in lines)
    channel = next(line for line in lines if "sw_in" in line)
    assert "SW_in" in channel and "800" in channel and "801" in channel and len(by_head) == len(lines)


def test_cells_by_name_and_by_place():
    assert preview._cell(["a", "b"], ["x", "y"], "y") == "b"
    assert preview._cell(["a", "b"], [], 1) == "a"
    assert preview._cell(["a", "b"], [], None) == "?"


def test_the_first_lines_of_a_file_as_they_are():
    lines = preview._first_lines(("x" * 150 + "\nsecond\n").encode())
    assert lines[0] == "    1: " + "x" * 100 and lines[1] == "    2: second"
    assert preview._first_lines("a;b\n".encode("utf-16"))[0] == "    1: a;b"


def test_lines_of_a_preview_begin_their_values_at_one_place():
    lines = preview._aligned([["a", "longer name"], ["1", "2"], ["3", "4"]])
    assert lines == [f"  {'a':<11}  {'1':>21}  {'3':>21}", f"  longer name  {'2':>21}  {'4':>21}"]


def test_a_link_out_of_a_folder_of_samples_is_refused(tmp_path):
    """A folder from elsewhere could bring in other files of this computer."""
    (tmp_path / "from").mkdir()
    (tmp_path / "other.csv").write_text("1,2\n")
    (tmp_path / "from" / "b.csv").symlink_to(tmp_path / "other.csv")
    with pytest.raises(UserErrors) as problem:
        grouping.files_of([tmp_path / "from"])
    (error,) = problem.value.errors
    assert (error.file, error.found) == ("b.csv", "a link that leads out of its folder")


@pytest.mark.parametrize("name", ["{a}.csv", "<b>.csv", "a\x1b[2J.csv", "\u202ea.csv"])
def test_samples_with_names_that_no_campaign_can_have_are_refused(tmp_path, name):
    (tmp_path / name).write_text("1,2\n")
    for given in (tmp_path, tmp_path / name):
        with pytest.raises(UserErrors) as problem:
            grouping.files_of([given])
        assert [error.found.startswith("the file's name holds") for error in problem.value.errors] == [True]


def test_files_of_one_set_in_other_encodings_are_read_each_by_its_own(tmp_path):
    """Both name the same logger: the names of the files do not matter."""
    first = logged(tmp_path / "a_01.csv", "H-7", columns="time,SW_in,SW_out,LW_in,LW_out,T_body °C")
    second = logged(tmp_path / "b_01.csv", "H-7", 5, columns="time,SW_in,SW_out,LW_in,LW_out,T_body °C")
    (group,), _ = grouping.grouped([tmp_path])
    alone = group.found.layout["encoding"]
    assert group.files == [first, second] and alone != "auto"
    second.write_bytes(second.read_text().encode("cp1252"))
    (group,), _ = grouping.grouped([tmp_path])
    assert group.files == [first, second] and group.found.layout["encoding"] == "auto"


def test_what_one_file_leaves_open_another_of_its_set_shows(tmp_path):
    """3 May or 5 March, and a day that can be no month."""
    for name, date in (("heron_01.csv", "03/05/2026"), ("heron_02.csv", "05/21/2026")):
        path = logged(tmp_path / name)
        path.write_text(path.read_text().replace("2026-05-21", date))
    (group,), _ = grouping.grouped([tmp_path / "heron_01.csv"])
    open_ = [key for key in group.found.doubts if key.startswith("time")]
    (both,), _ = grouping.grouped([tmp_path])
    assert open_ and not [key for key in both.found.doubts if key.startswith("time")]
    (second,), _ = grouping.grouped([tmp_path / "heron_02.csv"])
    assert both.found.layout["time"] == second.found.layout["time"]


def test_a_folder_of_too_many_files_is_refused(tmp_path, monkeypatch):
    """To take the first ones only would leave records out without a word."""
    monkeypatch.setattr(grouping, "MOST_FILES", 3)
    for number in range(3):
        logged(tmp_path / f"heron_{number}.csv")
    assert len(grouping.files_of([tmp_path])) == 3
    logged(tmp_path / "heron_3.csv")
    with pytest.raises(UserErrors, match="more than 3 files and folders in it; expected a folder of"):
        grouping.files_of([tmp_path])


def test_an_empty_folder_says_so(tmp_path):
    with pytest.raises(UserErrors, match="no files found in it; expected a folder of files off the logger"):
        grouping.grouped([tmp_path])
    (tmp_path / ".hidden").write_text("x")
    with pytest.raises(UserErrors, match="no files found in it"):
        grouping.grouped([tmp_path])


def test_a_sample_that_the_user_may_not_read_is_named(tmp_path, monkeypatch):
    path = logged(tmp_path / "heron_01.csv")
    monkeypatch.setattr(grouping.os, "access", lambda path, how: False)
    with pytest.raises(UserErrors, match="heron_01.csv: you may not read this file"):
        grouping.files_of([path])


def test_sets_of_many_loggers_have_names_of_their_own(tmp_path):
    for number in range(30):
        logged(tmp_path / f"{number:02}.csv", f"L-{number}")
    groups, _ = grouping.grouped([tmp_path])
    assert len({group.name for group in groups}) == 30 and groups[-1].name == "set_30"


def test_no_set_s_name_begins_with_another_one(tmp_path):
    """`logger/her*` would find the files of heron as well."""
    logged(tmp_path / "her_01.csv")
    logged(tmp_path / "heron_01.csv", delimiter=";")
    logged(tmp_path / "set_01.csv", delimiter="\t")
    assert list(names(grouping.grouped([tmp_path])[0])) == ["her", "set_b", "set_c"]
