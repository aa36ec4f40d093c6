"""Steps as processes forked from one with the libraries loaded: each apart from the others, its words in its log."""

import ast
import os
import signal
import subprocess
import sys
import textwrap
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from headland import jobs

ROOT = Path(__file__).parents[2]


def script(folder, body):
    path = folder / "a step.py"
    path.write_text(textwrap.dedent(body))
    return path


def test_files_and_settings_become_the_command_line_of_a_script():
    assert jobs.words({"raw": ["a b.csv", "c.csv"], "sw_in": "d.csv", "weather": []}, '{"x": 1}') == [
        "--settings", '{"x": 1}', "--raw", "a b.csv", "c.csv", "--sw-in", "d.csv", "--weather"]
    assert jobs.words({"page": "p"}, None) == ["--page", "p"]


def test_a_job_s_words_are_in_its_log_and_jobs_at_once_share_nothing(tmp_path):
    step = script(tmp_path, """
        import os, sys
        os.environ["MARK"] = os.environ.get("MARK", "") + sys.argv[1]
        print(os.environ["MARK"]); print("to the other stream", file=sys.stderr)
    """)
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda n: jobs.run(step, [f"n{n}"], tmp_path / "logs" / f"{n}.log"), range(24)))
    assert all((tmp_path / "logs" / f"{n}.log").read_text().splitlines() == [f"n{n}", "to the other stream"] or
               set((tmp_path / "logs" / f"{n}.log").read_text().splitlines()) == {f"n{n}", "to the other stream"} for n in range(24))


@pytest.mark.parametrize("body, ended", [
    ("import sys; sys.exit('heron.csv, line 3: no number; expected a number')", "exit status 1"),
    ("1 / 0", "exit status 1"), ("import os; os._exit(7)", "exit status 7"), ("import os; os.kill(os.getpid(), 9)", "signal 9"),
])
def test_a_script_that_fails_or_is_killed_is_told_apart_and_leaves_its_log(tmp_path, body, ended):
    with pytest.raises(jobs.JobFailed, match=ended):
        jobs.run(script(tmp_path, body), [], tmp_path / "log")
    said = (tmp_path / "log").read_text()
    assert ("heron.csv, line 3" in said) == ("heron" in body) and ("ZeroDivisionError" in said) == ("1 / 0" in body)
    jobs.run(script(tmp_path, "print('well')"), [], tmp_path / "log")
    assert (tmp_path / "log").read_text() == "well\n"


def test_a_job_ends_with_the_run_that_asked_for_it(tmp_path):
    step = script(tmp_path, f"""
        import os, time
        from pathlib import Path
        Path({str(tmp_path / 'pid')!r}).write_text(str(os.getpid()))
        time.sleep(60)
    """)
    asking = subprocess.Popen([sys.executable, "-c", f"from pathlib import Path; from headland import jobs; jobs.run(Path({str(step)!r}), [], Path({str(tmp_path / 'log')!r}))"],
                              env=os.environ | {"PYTHONPATH": str(ROOT / "workflow")})
    until(lambda: (tmp_path / "pid").exists() and (tmp_path / "pid").read_text())
    asking.send_signal(signal.SIGKILL)
    asking.wait()
    pid = int((tmp_path / "pid").read_text())
    until(lambda: not running(pid))


def by_grammar(path):
    """What a file imports of the package, by Python's own grammar."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom) and node.module and node.module.split(".")[0] == "headland":
            found |= {node.module.split(".")[1]} if "." in node.module else {alias.name for alias in node.names}
    return found


@pytest.mark.parametrize("script", sorted(path.stem for path in (ROOT / "scripts").glob("*.py") if path.stem not in ("headland", "package_path", "verify")))
def test_all_modules_that_a_step_reaches_are_known(script):
    wanted, waiting = set(), [ROOT / "scripts" / f"{script}.py"]
    while waiting:
        new = by_grammar(waiting.pop()) - wanted
        wanted |= new
        waiting += [ROOT / "workflow" / "headland" / f"{name}.py" for name in new]
    reached = jobs.reached(ROOT / "scripts" / f"{script}.py")
    assert {path.stem for path in reached[1:]} - {"package_path"} == wanted and all(path.is_file() for path in reached)


def running(pid):
    try:
        return Path(f"/proc/{pid}/stat").read_text().split()[2] != "Z"
    except FileNotFoundError:
        return False


def until(done):
    for _ in range(200):
        if done():
            return
        time.sleep(0.1)
    raise AssertionError("it did not happen within 20 s")
