"""Steps as processes forked from one with the libraries loaded: each apart from the others, its words in its
log.
"""

import os
import signal
import subprocess
import sys
import textwrap
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from headland.files import jobs

ROOT = Path(__file__).parents[3]


def script(folder, body):
    path = folder / "a step.py"
    path.write_text(textwrap.dedent(body))
    return path


def test_files_and_settings_become_the_command_line_of_a_script():
    assert jobs.words({"raw": ["a b.csv", "c.csv"], "sw_in": "d.csv", "weather": []}, '{"x": 1}') == [
        "--settings",
        '{"x": 1}',
        "--raw",
        "a b.csv",
        "c.csv",
        "--sw-in",
        "d.csv",
        "--weather",
    ]
    assert jobs.words({"page": "p"}, None) == ["--page", "p"]


def test_a_job_s_words_are_in_its_log_and_jobs_at_once_share_nothing(tmp_path):
    step = script(
        tmp_path,
        """
        import os, sys
        os.environ["MARK"] = os.environ.get("MARK", "") + sys.argv[1]
        print(os.environ["MARK"]); print("to the other stream", file=sys.stderr)
    """,
    )
    with ThreadPoolExecutor(8) as pool:
        list(pool.map(lambda n: jobs.run(step, [f"n{n}"], tmp_path / "logs" / f"{n}.log"), range(24)))
    assert all(
        (tmp_path / "logs" / f"{n}.log").read_text().splitlines() == [f"n{n}", "to the other stream"]
        or set((tmp_path / "logs" / f"{n}.log").read_text().splitlines()) == {f"n{n}", "to the other stream"}
        for n in range(24)
    )


@pytest.mark.parametrize(
    "body, ended",
    [
        ("import sys; sys.exit('heron.csv, line 3: no number; expected a number')", "exit status 1"),
        ("1 / 0", "exit status 1"),
        ("import os; os._exit(7)", "exit status 7"),
        ("import os; os.kill(os.getpid(), 9)", "signal 9"),
    ],
)
def test_a_script_that_fails_or_is_killed_is_told_apart_and_leaves_its_log(tmp_path, body, ended):
    with pytest.raises(jobs.JobFailed, match=ended):
        jobs.run(script(tmp_path, body), [], tmp_path / "log")
    said = (tmp_path / "log").read_text()
    assert ("heron.csv, line 3" in said) == ("heron" in body) and ("ZeroDivisionError" in said) == (
        "1 / 0" in body
    )
    jobs.run(script(tmp_path, "print('well')"), [], tmp_path / "log")
    assert (tmp_path / "log").read_text() == "well\n"


def test_a_job_ends_with_the_run_that_asked_for_it(tmp_path):
    step = script(
        tmp_path,
        f"""
        import os, time
        from pathlib import Path
        Path({str(tmp_path / "pid")!r}).write_text(str(os.getpid()))
        time.sleep(60)
    """,
    )
    asking = subprocess.Popen(
        [
            sys.executable,
            "-c",
            "from pathlib import Path; from headland.files import jobs; "
            f"jobs.run(Path({str(step)!r}), [], Path({str(tmp_path / 'log')!r}))",
        ],
        env=os.environ | {"PYTHONPATH": str(ROOT / "workflow")},
    )
    until(lambda: (tmp_path / "pid").exists() and (tmp_path / "pid").read_text())
    asking.send_signal(signal.SIGKILL)
    asking.wait()
    pid = int((tmp_path / "pid").read_text())
    until(lambda: not running(pid))


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


def test_a_full_disk_is_one_line_of_the_log(tmp_path):
    """The front door puts it into words (tests/scripts/test_cluster.py)."""
    step = script(tmp_path, "import errno; raise OSError(errno.ENOSPC, 'No space left on device')")
    with pytest.raises(jobs.JobFailed):
        jobs.run(step, [], tmp_path / "log")
    assert (tmp_path / "log").read_text() == "No space left on device\n"
