"""Kills one of two `oddments serve` behind HAProxy, under load: balance_test.py PROGRAM [REQUESTS]

No request may fail but those that were under way at that moment. The copy that was killed then comes
back and must be asked again.
"""
import contextlib
import http.client
import os
import re
import socket
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

from processes import must, running, until

PLACE = Path(__file__).parent
ASKS = [
    f"/api/v1/grade?garment={garment}&sizes={size}"
    for garment in ("tam", "hat", "cuff", "sock")
    for size in ("y4", "women-m")
]
VISITORS = 8


def ask(connection, path):
    """Status, which copy, body."""
    connection.request("GET", path, headers={"Host": "oddments.test"})
    answer = connection.getresponse()
    return answer.status, answer.headers.get("X-Copy"), answer.read()


def asked_once(address, path):
    connection = http.client.HTTPConnection(*address, timeout=30)
    with contextlib.closing(connection):
        return ask(connection, path)


class Load:
    """Visitors who ask one thing after another, until all are asked or it is stopped."""

    def __init__(self, address, expected, count):
        self.address, self.expected, self.left = address, expected, count
        self.lock, self.answers, self.failures = threading.Lock(), [], []
        self.visitors = [threading.Thread(target=self.visit, daemon=True) for _ in range(VISITORS)]

    def visit(self):
        connection = http.client.HTTPConnection(*self.address, timeout=30)
        while (number := self.take()) is not None:
            path, begun = ASKS[number % len(ASKS)], time.monotonic()
            try:
                status, copy, body = ask(connection, path)
                fault = None if (status, body) == (200, self.expected[path]) else f"{status} {body[:200]}"
            except (OSError, http.client.HTTPException) as error:
                connection.close()
                copy, fault = None, repr(error)
            with self.lock:
                told, last = (self.failures, fault) if fault else (self.answers, copy)
                told.append((begun, time.monotonic(), last))

    def take(self):
        with self.lock:
            self.left -= 1
            return self.left if self.left >= 0 else None

    def copies(self, since, until=float("inf")):
        with self.lock:
            return Counter(copy for begun, _, copy in self.answers if since <= begun < until)


def copy_of(stack, program, log, port=0):
    """A copy of the service, and where it listens."""
    command = [program, "serve", "--listen", f"127.0.0.1:{port}", "--name", "oddments.test"]
    child = stack.enter_context(running(command, log, cwd=log.parent))
    told = re.compile(r"^Listening on http://([\d.]+:\d+)", re.MULTILINE)
    return child, until("a copy", lambda: told.search(log.read_text()))[1]


def balancer(stack, folder, one, two):
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        address = free.getsockname()
    text = (PLACE / "balance.cfg").read_text()
    for name, value in (("@LISTEN@", "%s:%d" % address), ("@ONE@", one), ("@TWO@", two)):
        text = text.replace(name, value)
    (folder / "balance.cfg").write_text(text)
    log = folder / "balance.log"
    stack.enter_context(running(["haproxy", "-db", "-f", folder / "balance.cfg"], log))

    def answers():
        with contextlib.suppress(OSError):
            return asked_once(address, "/api/v1/health")[0] == 200

    until("the balancer", answers)
    return address


def main(program, count):
    program = os.path.realpath(program)
    with tempfile.TemporaryDirectory() as name, contextlib.ExitStack() as stack:
        folder = Path(name)
        first, one = copy_of(stack, program, folder / "one.log")
        _, two = copy_of(stack, program, folder / "two.log")
        address = balancer(stack, folder, one, two)
        alone = (two.split(":")[0], int(two.split(":")[1]))
        expected = {path: asked_once(alone, path)[2] for path in ASKS}
        load = Load(address, expected, count)
        begun = time.monotonic()
        for visitor in load.visitors:
            visitor.start()

        def done(share):
            return lambda: len(load.answers) + len(load.failures) >= count * share

        until("a third of the answers", done(1 / 3), 120)
        killed = time.monotonic()
        first.kill()
        first.wait()
        gone = time.monotonic()
        until("two thirds of the answers", done(2 / 3), 120)
        back = time.monotonic()
        copy_of(stack, program, folder / "again.log", int(one.split(":")[1]))
        until("all answers", done(1), 120)
        ended = time.monotonic()
        report(load, count, (begun, killed, gone, back, ended))


def report(load, count, times):
    begun, killed, gone, back, ended = times
    before, without = load.copies(begun, killed), load.copies(gone, back)

    # Asked before the copy was gone, and not ended when the kill began.
    def under_way(told):
        return [last for asked, ended, last in told if asked < gone and ended > killed]

    failed = [fault for _, _, fault in load.failures]
    must(failed == under_way(load.failures), f"failed though not under way at the kill: {failed[:3]}")
    must(len(failed) <= VISITORS, f"more failed than can be under way: {failed[:3]}")
    must(len(load.answers) + len(load.failures) == count, "a request was lost")
    must(min(before["one"], before["two"]) > count / 12, f"both work before the kill: {before}")
    must(set(without) == {"two"}, f"one alone works without the other: {without}")
    again = load.copies(back)
    must(again["one"] > 0, f"the copy that came back is asked again: {again}")
    print(f"{count} requests, {VISITORS} at a time, {count / (ended - begun):.0f} a second")
    print(f"before the kill {dict(before)}, without {dict(without)}, then {dict(again)}")
    saved = len(under_way(load.answers))
    print(f"failed: {len(failed)}; under way at the kill and answered all the same: {saved}")


if __name__ == "__main__":
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 3000)
