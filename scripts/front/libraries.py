"""The project's own environment: made beside its place and renamed when whole, checked before it is used."""

import hashlib
import os
import shutil
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from front import children, installers, places
from front.problems import CannotStart
from front.screen import Screen

BUILD_TOOLS = ("packaging", "pip", "setuptools", "wheel")
# pip takes ready-made libraries only. Two come as source for some Pythons: both work as plain Python. A
# compiler that does nothing (`true`) leaves out the optional speed-up of one of them, so that no machine
# needs a real one.
ONLY_LOCKED = (
    "--require-hashes",
    "--no-input",
    "--disable-pip-version-check",
    "--no-build-isolation",
    "--only-binary=:all:",
    "--no-binary=connection-pool,immutables",
)


def folder() -> Path:
    """The environment's folder.

    The project's where it can be used or made there, else one in the user's cache.
    """
    shared = places.ROOT / ".venv"
    if places.is_own() or damage(shared, [places.lock()]) == "":
        return shared
    return places.base() / ".venv"


def python() -> Path:
    return folder() / "bin" / "python"


def stamp(locks: Sequence[Path]) -> str:
    """What an environment is made from: the lock files and this Python."""
    version = f"{sys.version_info[0]}.{sys.version_info[1]}"
    return "".join(f"{hashlib.sha256(lock.read_bytes()).hexdigest()} {version}\n" for lock in locks)


def damage(environment: Path, locks: Sequence[Path]) -> str:
    """Why an environment can't be used as it is; empty where it can.

    Made from more lock files than needed, it can.
    """
    made_from = environment / "made-from"
    if not (environment / "bin" / "python").exists() or not made_from.is_file():
        return "there is none"
    if not made_from.read_text(encoding="utf-8").startswith(stamp(locks)):
        return "it is of another state"
    try:
        listed = (environment / "files").read_text(encoding="utf-8").splitlines()
    except OSError:
        return ""  # made before files were listed
    for line in listed:
        size, _, name = line.partition(" ")
        try:
            if os.stat(environment / name).st_size != int(size):
                return f"{name} has changed"
        except OSError:
            return f"{name} is missing"
    return ""


def list_files(environment: Path) -> None:
    """Write sizes and names of all files in an environment, by which damage is noticed."""
    found, listing = [], environment / "files"
    for at, folders, names in os.walk(environment):
        folders[:] = sorted(name for name in folders if name != "__pycache__")
        for name in sorted(names):
            path = Path(at, name)
            if path.is_file() and path != listing:
                found.append(f"{path.stat().st_size} {path.relative_to(environment)}\n")
    listing.write_text("".join(found), encoding="utf-8")


def make(screen: Screen, locks: Sequence[Path]) -> None:
    """Make the environment from lock files."""
    final = folder()
    if final.is_dir() and any(final.iterdir()) and not (final / "pyvenv.cfg").exists():
        raise CannotStart(
            f"{places.short(final)} is not an environment; move it away and run the same command again."
        )
    part, old = final.with_name(".venv.part"), final.with_name(".venv.old")
    for left in (part, old):
        shutil.rmtree(left, ignore_errors=True)
    screen.line("Setting up the environment (about two minutes, once) ...")
    if not filled(part, locks, screen):
        reason = installers.reason_of_failure()
        shutil.rmtree(part, ignore_errors=True)
        raise CannotStart(f"The environment could not be set up: {reason}")
    point_to(part, final)
    list_files(part)
    (part / "made-from").write_text(stamp(locks), encoding="utf-8")
    if final.is_symlink():
        final.unlink()
    elif final.exists():
        final.rename(old)
    part.rename(final)
    shutil.rmtree(old, ignore_errors=True)


def filled(part: Path, locks: Sequence[Path], screen: Screen) -> bool:
    """Make a new environment and install the lock files in it; whether all went well."""
    base_python = getattr(sys, "_base_executable", sys.executable)
    inside = part / "bin" / "python"
    fetched = 0

    def shown() -> str:
        return f"  {fetched} libraries fetched" if fetched else "  starting"

    with installers.setup_log().open("a", encoding="utf-8", errors="replace") as log, screen.under(shown):

        def note(line: str) -> None:
            nonlocal fetched
            fetched += line.startswith("Collecting ")
            log.write(line + "\n")

        if children.run([base_python, "-m", "venv", "--clear", part], note, env=children.environment(inside)):
            return False
        tools = part / "build-tools.txt"
        tools.write_text(requirements_of(BUILD_TOOLS), encoding="utf-8")
        steps: list[list[Path]] = [[tools], list(locks)]
        return not any(installed(inside, requirements, note) for requirements in steps)


def installed(inside: Path, requirements: Sequence[Path], note: Callable[[str], None]) -> int:
    """Install requirement files in an environment; pip's exit status."""
    listed = [word for file in requirements for word in ("--requirement", file)]
    command = [inside, "-m", "pip", "install", *ONLY_LOCKED, "--no-user", "--compile", *listed]
    return children.run(command, note, env=children.of_pip(inside) | {"CC": "true"})


def requirements_of(names: Sequence[str]) -> str:
    """The lines of some libraries in the lock file, with their checksums."""
    blocks = places.lock().read_text(encoding="utf-8").replace("\\\n", " ").splitlines()
    return "".join(f"{block}\n" for block in blocks if block.partition("==")[0] in names)


def point_to(part: Path, final: Path) -> None:
    """Let the programs of an environment call its Python where it will be."""
    old, new = f"#!{part}/".encode(), f"#!{final}/".encode()
    for program in (part / "bin").iterdir():
        if program.is_file() and not program.is_symlink():
            content = program.read_bytes()
            if content.startswith(old):
                program.write_bytes(content.replace(old, new, 1))


def prepare(screen: Screen, *, may_install: bool, for_tests: bool = False) -> None:
    """See to it that the environment is there, whole, and of today's lock files."""
    locks = [places.lock(), *([places.lock_of_tests()] if for_tests else [])]
    try:
        places.prepare_base()
        why = damage(folder(), locks)
        if not why:
            return
        with installers.setup_log().open("a", encoding="utf-8") as held:
            waiting = "Another run is setting up the environment; waiting for it ..."
            children.hold(held, lambda: screen.line(waiting))
            why = damage(folder(), locks)
            if why:
                held.truncate(0)
                need_for_environments(screen, may_install)
                if why.endswith(("is missing", "has changed")):
                    screen.line(f"The environment is damaged: {why}.")
                make(screen, locks)
    except OSError as problem:
        shown = places.short(places.base())
        raise CannotStart(f"The environment can't be written in {shown}: {problem.strerror}.") from None


def need_for_environments(screen: Screen, may_install: bool) -> None:
    """Python's module for environments, installed where the user agrees."""
    need = installers.VENV_MODULE
    if may_install and not installers.can_make_environments():
        installers.install(need, screen)
    if not installers.can_make_environments():
        raise CannotStart(f"Missing: {need.what}. {installers.remedy(need)}")
