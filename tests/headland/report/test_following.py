"""The page that loads itself again, in a browser without a screen."""

import re
import shutil
import subprocess

import pytest

from headland.report import following

BROWSER = next(
    (found for name in ("chromium", "chromium-browser", "google-chrome") if (found := shutil.which(name))),
    None,
)
PAGE = "<!DOCTYPE html><html><head><title>x</title></head><body><p>{}</p></body></html>\n"
COUNT = """<script>
sessionStorage.loads = Number(sessionStorage.loads || 0) + 1;
document.body.dataset.loads = sessionStorage.loads;
if (sessionStorage.loads > 1) { window.headlandFollow = function () {}; }
</script>"""


def test_only_a_program_is_added():
    page = PAGE.format("</body> in a text")
    added = following.reloading(page, "abc")
    assert re.sub(r"<script>.*?</script>\n", "", added, flags=re.DOTALL) == page
    assert following.mark_of(page) != following.mark_of(PAGE.format("other"))


@pytest.mark.skipif(not BROWSER, reason="no browser without a screen here")
@pytest.mark.parametrize("newest, loads", [("same", "1"), ("another", "2")])
def test_an_open_page_loads_itself_again_when_there_is_a_new_one(tmp_path, newest, loads):
    page = following.reloading(PAGE.format("") + COUNT, "same")
    (tmp_path / "follow.html").write_text(page, encoding="utf-8")
    (tmp_path / "follow.js").write_text(following.mark_file(newest), encoding="utf-8")
    words = ["--headless", "--no-sandbox", "--disable-gpu", f"--user-data-dir={tmp_path / 'browser'}"]
    words += ["--virtual-time-budget=5000", "--dump-dom", f"file://{tmp_path / 'follow.html'}"]
    seen = subprocess.run([BROWSER, *words], capture_output=True, text=True, timeout=120).stdout
    assert re.search(r'data-loads="(\d)"', seen)[1] == loads
