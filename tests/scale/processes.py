"""Starts what a test needs and stops it again, whatever happens."""
import contextlib
import os
import signal
import subprocess
import sys
import time


# Whoever runs out of patience with a test must not leave its processes behind.
signal.signal(signal.SIGTERM, lambda *_: sys.exit("told to stop"))


@contextlib.contextmanager
def running(command, log, **more):
    """A process of its own group; at the end all that is left of the group is killed."""
    with open(log, "wb") as told:
        child = subprocess.Popen(
            command, stdin=subprocess.DEVNULL, stdout=told, stderr=told, start_new_session=True, **more
        )
    try:
        yield child
    finally:
        with contextlib.suppress(ProcessLookupError):
            os.killpg(child.pid, signal.SIGKILL)
        child.wait()


def until(what, told, seconds=30):
    """Waits for what comes true, a while at most. Gives what it came to."""
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        if found := told():
            return found
        time.sleep(0.01)
    sys.exit(f"{what}: not within {seconds} s")


def must(holds, what):
    """Not `assert`, which may be switched off."""
    if not holds:
        sys.exit(f"failed: {what}")
