"""Headland's front door: sets up the project's own environment where there is none, then does what is asked.

    python3 scripts/headland.py demo
    python3 scripts/headland.py --help

The parts are in the folder `front`. They use the standard library only, because they run before anything is
installed. Exit status: 0 done, no finding worse than a warning; 1 done, with an error in the findings, or a
fault of Headland; 2 could not start (usage, campaign.yaml, environment, machine).
"""

import os
import sys

OLDEST, NEWEST = (3, 11), (3, 14)  # the Pythons that requirements.lock serves


def unsuited(version, system):
    """Why Headland can't run under this Python on this system, in one line; empty where it can."""
    found = str(version[0]) + "." + str(version[1])
    if system == "nt":
        return (
            "Headland runs on Linux, macOS and, on Windows, inside WSL: "
            "run `wsl --install`, then the same command in the window that it opens."
        )
    if tuple(version[:2]) < OLDEST:
        return (
            "Python 3.11 or later is needed, found " + found + ". "
            "Debian (12 or later) and Ubuntu (24.04 or later): sudo apt-get install python3; "
            "macOS: brew install python@3.13; Windows: inside WSL, sudo apt-get install python3."
        )
    if tuple(version[:2]) > NEWEST:
        return (
            "Python 3.11 to 3.14 is needed, found " + found + ", for which the libraries are not ready. "
            "Debian/Ubuntu: sudo apt-get install python3.13; macOS: brew install python@3.13; "
            "Windows: inside WSL, sudo apt-get install python3.13. Then run this with python3.13."
        )
    return ""


if __name__ == "__main__":
    # An old Python has to be able to parse this file; it imports nothing else of ours before this check.
    problem = unsuited(sys.version_info, os.name)
    if problem:
        sys.stderr.write(problem + "\n")
        sys.exit(2)
    # A module of the user's must not take the place of one of the library, which PYTHONPATH may hold too.
    users = [os.path.abspath(path) for path in os.environ.get("PYTHONPATH", "").split(os.pathsep)]
    standard = os.path.dirname(os.__file__)
    sys.path = [path for path in sys.path if path not in users or path.startswith(standard)]
    sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
    from front import command_line

    sys.exit(command_line.main(sys.argv[1:]))
