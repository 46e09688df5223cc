"""Kills a worker and a program in the middle of spread.py: the answers must be those of one batch.

spread_test.py PROGRAM [REQUESTS]: a scheduler and two workers as processes of this machine.
"""
import contextlib
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import psutil

from processes import must, running, until

PLACE = Path(__file__).parent
MACHINES = ["standard", "mid", "bulky"]
GARMENTS = ["tam", "hat", "mitten", "sock", "cuff"]
SIZES = ["y4", "y9-10", "women-m", "men-l"]


def request(number):
    """Long ones and short ones, faults and blanks among them."""
    if number % 97 == 5:
        return ""
    if number % 89 == 7:
        return "{ this is no JSON"
    ask = {"id": number, "garment": GARMENTS[number % 5], "sizes": SIZES[number // 5 % 4]}
    ask["machine"] = MACHINES[number // 20 % 3]
    return json.dumps(ask)


def cluster(stack, folder):
    """Where the scheduler listens, and the workers."""
    file = folder / "scheduler.json"
    dask = [sys.executable, "-m", "dask"]
    calm = ["--host", "127.0.0.1", "--no-dashboard", "--scheduler-file", str(file)]
    scheduler = [*dask, "scheduler", "--port", "0", *calm]
    stack.enter_context(running(scheduler, folder / "scheduler.log"))
    until("the scheduler", file.exists)
    worker = [*dask, "worker", *calm, "--nthreads", "1", "--no-nanny", "--memory-limit", "0"]
    workers = [
        stack.enter_context(
            running([*worker, "--local-directory", str(folder / name)], folder / f"{name}.log")
        )
        for name in ("one", "two")
    ]
    for name in ("one", "two"):
        until(f"worker {name}", lambda: "Registered to" in (folder / f"{name}.log").read_text())
    return json.loads(file.read_text())["address"], workers


def at_work(worker):
    """The program that a worker waits for, if any, halted so that it can't end meanwhile."""
    for child in psutil.Process(worker.pid).children():
        with contextlib.suppress(psutil.NoSuchProcess):
            child.suspend()
            if child.status() != psutil.STATUS_ZOMBIE and child.name() == "oddments":
                return [child]
            child.resume()
    return []


def spread_with_kills(folder, program, requests):
    """Gives the status, the seconds, and how many answers were out at each kill."""
    answers, killed_at = folder / "spread.jsonl", []
    with contextlib.ExitStack() as stack:
        address, (one, two) = cluster(stack, folder)
        begun = time.monotonic()
        with open(requests, "rb") as lines, open(answers, "wb") as out:
            recipe = subprocess.Popen(
                [sys.executable, "-u", PLACE / "spread.py", address, program], stdin=lines, stdout=out
            )
        stack.callback(recipe.kill)
        # A program of the worker that stays: what was taken for its answers would stay too.
        for victim, worker in (("program", two), ("worker", one)):
            so_far = answers.stat().st_size
            until("more answers", lambda: answers.stat().st_size > so_far or recipe.poll() is not None)
            child = until("a program at work", lambda: at_work(worker))[0]
            if victim == "worker":
                worker.kill()
                worker.wait()
            child.kill()
            killed_at.append(answers.read_bytes().count(b"\n"))
            must(recipe.poll() is None, f"the {victim} was killed after the end")
        status = recipe.wait(timeout=300)
        must(two.poll() is None, "the other worker ended too")
        return status, time.monotonic() - begun, killed_at


def main(program, count):
    program = os.path.realpath(program)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        requests, plain = folder / "requests.jsonl", folder / "plain.jsonl"
        requests.write_text("".join(request(number) + "\n" for number in range(count)))
        begun = time.monotonic()
        with open(plain, "wb") as out:
            told = subprocess.run([program, "batch", requests], stdout=out, stderr=subprocess.PIPE)
        seconds = time.monotonic() - begun
        must(told.returncode == 1, f"plain: status {told.returncode}: {told.stderr.decode()}")
        answers = plain.read_bytes().count(b"\n")
        status, spread, killed_at = spread_with_kills(folder, program, requests)
        must(status == 1, f"spread: status {status}")
        subprocess.run(["cmp", plain, folder / "spread.jsonl"], check=True)
        # The kills were no mere noise: Dask had to do something about each.
        must("status -9" in (folder / "two.log").read_text(), "no worker saw its program killed")
        must(all(0 < at < answers for at in killed_at), f"killed at {killed_at} of {answers}")
        print(f"{count} requests, {answers} answers: the same bytes, spread and plain")
        print(f"killed: a program after {killed_at[0]} answers, a worker after {killed_at[1]}")
        print(f"plain {count / seconds:.0f} a second, spread {count / spread:.0f}, one worker lost")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 6000)
