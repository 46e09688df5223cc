"""Grades JSON Lines on a Dask cluster, as one `oddments batch` would: spread.py SCHEDULER PROGRAM"""
import subprocess
import sys
from collections import deque
from itertools import islice

from dask.distributed import Client

LINES = 100


def grade(program, first, lines):
    """The answers to a chunk. Dask tries what raises again, elsewhere if a worker is gone."""
    command = [program, "batch", "--jobs", "1", "--count-from", str(first)]
    done = subprocess.run(command, input=lines, capture_output=True)
    # 0 and 1: every line has its answer. Else it was killed or broke off.
    if done.returncode not in (0, 1):
        raise RuntimeError(f"lines from {first}: status {done.returncode}: {done.stderr.decode()}")
    return done.stdout, done.returncode


def spread(client, program, requests, answers):
    """Order is kept, and no more is read than a few chunks ahead. Gives the status of the whole."""
    window = 4 * sum(client.nthreads().values())
    under_way, first, status = deque(), 1, 0
    chunks = iter(lambda: list(islice(requests, LINES)), [])
    while (lines := next(chunks, None)) or under_way:
        if lines:
            chunk = b"".join(lines)
            under_way.append(client.submit(grade, program, first, chunk, pure=False, retries=3))
            first += len(lines)
        if not lines or len(under_way) == window:
            graded, errors = under_way.popleft().result()
            answers.write(graded)
            status |= errors
    return status


if __name__ == "__main__":
    scheduler, program = sys.argv[1:]
    with Client(scheduler) as client:
        sys.exit(spread(client, program, sys.stdin.buffer, sys.stdout.buffer))
