"""Campaigns as jobs of a cluster."""

import os
import shutil

import pytest

from front import cluster, places
from front.problems import CannotStart
from front.steps import Steps

from .helpers import fake_python, leave, said


@pytest.mark.parametrize(
    "said_of_job, told",
    [
        (
            "figures.py ended with exit status 1; its log is {results}/failed.log\n"
            "srun: error: vm: task 0: Exited with exit code 1\n",
            [
                "This step failed: failed",
                "  its log: results/poor/failed.log",
                "  which ends: The disk is full: make room and run the same command again.",
            ],
        ),
        (
            "figures.py ended with exit status 28, the disk being full; its log is {results}/done.log\n",
            [
                "This step failed: done",
                "  its log: results/poor/done.log",
                "  which ends: The disk is full: make room and run the same command again.",
            ],
        ),
        (
            "figures.py was ended by signal 9, perhaps for lack of memory; its log is {results}/failed.log\n",
            [
                "This step failed: failed",
                "  its log: results/poor/failed.log",
                "  which ends: The disk is full: make room and run the same command again.",
            ],
        ),
        (
            "slurmstepd-vm: error: *** JOB 1 ON vm CANCELLED AT 2026-11-28T08:04:41 ***\n",
            [
                "This step failed: done",
                "  its log: results/poor/done.log",
                "  which ends: the cluster ended its job (CANCELLED); run the same command again.",
            ],
        ),
        (
            "slurmstepd: error: *** JOB 1 ON vm CANCELLED AT 2026-11-28T08:04:41 DUE TO TIME LIMIT ***\n",
            [
                "This step failed: done",
                "  its log: results/poor/done.log",
                "  which ends: the cluster ended its job (CANCELLED DUE TO TIME LIMIT); "
                "run the same command again.",
            ],
        ),
    ],
    ids=["failed", "no room", "killed", "cancelled", "time limit"],
)
def test_on_a_cluster_a_campaign_s_failure_is_that_of_the_step_that_failed(
    project, screen, said_of_job, told
):
    """Snakemake tells all steps of a job that failed; which of them did, the job's own log says."""
    results, of_job = (
        leave(name="poor"),
        project / ".snakemake" / "slurm_logs" / "group_campaign_a_..." / "7.log",
    )
    of_job.parent.mkdir(parents=True)
    of_job.write_text(said_of_job.format(results=results))
    for number, name in enumerate(("failed", "done", "never")):
        (results / f"{name}.log").write_text(
            {
                "failed": "No space left on device\n",
                "done": "fine\n",
                "never": "",
            }[name]
        )
        os.utime(results / f"{name}.log", (1000 + number, 1000 + number))
    steps = Steps(screen)
    for line in [
        "Job 1f-2 has been submitted with SLURM jobid 7 (log: x).",
        "    message: Error in group campaign",
        f"    log: {of_job} (check log file(s) for error details)",
        "    jobs:",
        "        rule done:",
    ]:
        steps.read(line)
    for name in ("done", "failed", "never"):
        for line in [
            f"    Error in rule {name}:",
            "        message: None",
            f"        output: {results}/{name}.csv",
            f"        log: {results}/{name}.log (check log file(s) for error details)",
        ]:
            steps.read(line)
    assert said(screen) == ["A campaign was submitted with SLURM jobid 7"]
    assert steps.explained(steps.failed(results)) == told
    steps.read(
        "    message: SLURM-job '8' failed, SLURM status is: 'CANCELLED'. "
        "Detailed failure reason unavailable (status command is not 'sacct')."
    )
    for line in [
        "    Error in rule failed:",
        f"        output: {results}/failed.csv",
        f"        log: {results}/failed.log (check log file(s) for error details)",
    ]:
        steps.read(line)
    assert (
        steps.explained(steps.failures[-1:])[-1]
        == "  which ends: the cluster ended its job (CANCELLED); run the same command again."
    )


def test_what_a_cluster_needs_is_told_before_anything_starts(project, monkeypatch):
    campaigns = {project / "results" / "day": project / "day"}
    with pytest.raises(CannotStart, match="there is no config/profiles/slum"):
        cluster.command(campaigns, "slum")
    profile = project / "config" / "profiles" / "slurm" / "config.yaml"
    profile.parent.mkdir(parents=True)
    profile.touch()
    fake_python("exit 0")
    monkeypatch.setattr(shutil, "which", lambda name: None)
    with pytest.raises(CannotStart, match="sbatch"):
        cluster.command(campaigns, "slurm")
    monkeypatch.setattr(shutil, "which", lambda name: name)
    bin = project / "bin"
    bin.mkdir()
    (bin / "squeue").write_text(f"#!/bin/sh\necho 5 other_1\necho 7 headland-{places.digest(project)}_1f\n")
    (bin / "squeue").chmod(0o755)
    monkeypatch.setenv("PATH", f"{bin}:{os.environ['PATH']}")
    with pytest.raises(
        CannotStart,
        match="still in the queue .7.; wait until they are done, or end them with `scancel 7`",
    ):
        cluster.command(campaigns, "slurm")
    (bin / "squeue").write_text("#!/bin/sh\n")
    assert cluster.command(campaigns, "slurm")[-2] == "--configfile"
    with pytest.raises(CannotStart, match=r"a path with \$ ' can't be used"):
        cluster.command({project / "it's $x": project / "day"}, "slurm")
