"""Runs a Python program that ends when the front door ends, however that happens.

Usage: keeper.py FD (-m MODULE | SCRIPT) words...
FD is the reading end of a pipe. The front door holds the other end and never writes, so the end of the pipe
is the end of the front door. Then this process and all that it started are killed: they are one process
group.
"""

import os
import runpy
import signal
import sys
import threading


def end_with_the_front_door(pipe: int) -> None:
    """Wait for the end of the pipe, then kill the process group where it is our own, else this process."""
    os.read(pipe, 1)
    if os.getpgrp() == os.getpid():
        os.killpg(0, signal.SIGKILL)
    os._exit(1)


def main() -> None:
    pipe = int(sys.argv[1])
    os.set_inheritable(pipe, False)
    threading.Thread(target=end_with_the_front_door, args=(pipe,), daemon=True).start()
    if sys.argv[2] == "-m":
        module, sys.argv = sys.argv[3], sys.argv[3:]
        sys.path[0] = os.getcwd()
        runpy.run_module(module, run_name="__main__", alter_sys=True)
    else:
        sys.argv = sys.argv[2:]
        sys.path[0] = os.path.dirname(os.path.abspath(sys.argv[0]))
        runpy.run_path(sys.argv[0], run_name="__main__")


if __name__ == "__main__":
    try:
        main()
    except KeyboardInterrupt:  # the front door says that it was stopped
        os._exit(130)
