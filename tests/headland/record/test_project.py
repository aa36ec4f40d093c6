"""The project's own files, as they go into an archive."""

import pytest

from headland.record import project


def test_neither_links_nor_what_tools_left_are_the_project_s_own(tmp_path, monkeypatch):
    monkeypatch.setattr(project, "PARTS", ("workflow", "README.md", "missing"))
    folder = tmp_path / "workflow" / "room"
    (folder / "__pycache__").mkdir(parents=True)
    for name in ("a.py", "a.pyc", "a.py~", ".hidden", "__pycache__/a.py"):
        (folder / name).write_text("")
    (tmp_path / "README.md").write_text("")
    try:
        (folder / "link.py").symlink_to(folder / "a.py")
    except OSError:
        pytest.skip("this system makes no links here")
    assert project.project_files(tmp_path) == {
        "workflow/room/a.py": folder / "a.py",
        "README.md": tmp_path / "README.md",
    }
