"""The programs and libraries in an archive, before anything runs."""

import io
from pathlib import Path

import pytest

from headland.base.errors import UserErrors
from headland.files import settings
from headland.record import bag, intact, programs

from .made import LOCK, ROOT, packed, payload


@pytest.mark.parametrize(
    "line",
    [
        b"--extra-index-url elsewhere\n",
        b"evil @ file:///evil.whl\n",
        b"evil==1.0\n",
        b"-e .\n",
        b"--find-links /tmp\n",
    ],
)
def test_a_changed_lock_is_found_even_with_matching_checksums(line):
    archive = bag.opened(io.BytesIO(packed(payload(**{"project/requirements.lock": LOCK + line}))))
    assert intact.faults(archive) == [] and programs.faults_of_lock(archive)


def test_the_projects_own_lock_passes():
    archive = bag.opened(
        io.BytesIO(
            packed(payload(**{"project/requirements.lock": (ROOT / "requirements.lock").read_bytes()}))
        )
    )
    assert programs.faults_of_lock(archive) == []


def test_tags_in_the_archives_yaml_are_not_followed(tmp_path):
    archive = bag.opened(
        io.BytesIO(
            packed(
                payload(
                    **{"inputs/x/campaign.yaml": b"title: !!python/object/apply:os.system ['touch evil']\n"}
                )
            )
        )
    )
    archive.unpack("data/inputs/", tmp_path)
    with pytest.raises(UserErrors):
        settings.load(tmp_path / "x", ROOT / "config")
    assert not Path("evil").exists()


def test_changed_programs_are_named_before_anything_runs():
    first, other = (
        bag.opened(io.BytesIO(packed(payload(**{"project/scripts/headland.py": text}))))
        for text in (b"1", b"2")
    )
    ours = {
        name.removeprefix(programs.CODE): digest
        for name, digest in first.digests.items()
        if name.startswith(programs.CODE)
    }
    assert programs.other_code(first, ours) == [] and programs.other_code(other, ours) == [
        "scripts/headland.py"
    ]
    assert programs.digest_of_code(first) != programs.digest_of_code(other)


def with_wheels(lock=LOCK, **wheels):
    """An archive with libraries. wheels: contents by name, `_` for `.`."""
    files = {f"wheels/{name}": content for name, content in wheels.items()}
    return bag.opened(io.BytesIO(packed(payload(**{"project/requirements.lock": lock}, **files))))


def test_a_wheel_that_the_lock_does_not_list_is_not_used():
    import hashlib

    wheel = b"a wheel"
    lock = b"one==1.0 \\\n    --hash=sha256:" + hashlib.sha256(wheel).hexdigest().encode() + b"\n"
    assert programs.faults_of_wheels(with_wheels(lock, **{"one-1.0-py3-none-any.whl": wheel})) == []
    changed = with_wheels(lock, **{"one-1.0-py3-none-any.whl": wheel + b" and a line more"})
    (line,) = programs.faults_of_wheels(changed)
    assert "no checksum" in line
    (line,) = programs.faults_of_wheels(with_wheels(lock, **{"setuptools-1.0-py3-none-any.whl": b"build"}))
    assert "setuptools" in line


def test_a_file_that_is_no_package_is_not_used():
    (line,) = programs.faults_of_wheels(with_wheels(**{"index.html": b"<a href=elsewhere>"}))
    assert "index.html" in line
