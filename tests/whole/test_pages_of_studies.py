"""A page of a study that is older than the code it speaks of says so."""

import pytest

from study import dated


@pytest.mark.parametrize("page", sorted(dated.MODULES))
def test_a_page_is_not_older_than_its_code_without_saying_so(page):
    path = dated.DOCS / page
    commit, accounted = dated.named(path.read_text(encoding="utf-8"))
    assert commit, f"{page} names no commit: PYTHONPATH=tests:workflow python -m study.dated made {page}"
    if dated.MODULES[page]:
        told = (
            f"{page} is older than its code: run the study again, or say so with "
            f"PYTHONPATH=tests:workflow python -m study.dated changed {page}"
        )
        assert accounted == dated.digest(dated.MODULES[page]), told


def test_what_a_module_does_counts_and_its_words_do_not():
    plain = 'def f(x):\n    """One."""\n    return x + 1  # why\n'
    assert dated.meaning(plain) == dated.meaning('"""Top."""\ndef f(x):\n    return (x +\n            1)\n')
    assert dated.meaning(plain) != dated.meaning(plain.replace("x + 1", "x - 1"))


def test_a_page_written_before_a_change_is_seen(tmp_path, monkeypatch):
    package = tmp_path / "package"
    (package / "checks").mkdir(parents=True)
    module = package / "checks" / "one.py"
    module.write_text("LIMIT = 3.0\n")
    before = dated.digest(["checks/*.py"], package)
    text = "# Page\n\n" + dated.sentence("mistakes.md", "abcdef1", "2026-01-01", before) + "\n"
    assert dated.named(text) == ("abcdef1", before)
    module.write_text("LIMIT = 4.0\n")
    after = dated.digest(["checks/*.py"], package)
    assert after != before and dated.named(text + dated.since(after) + "\n") == ("abcdef1", after)
    (package / "checks" / "two.py").write_text("")
    assert dated.digest(["checks/*.py"], package) != after
