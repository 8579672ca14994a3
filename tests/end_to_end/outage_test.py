"""Three days without the record; and a machine whose clock is set ten minutes ahead and back while the daemon runs on it."""
import contextlib
import datetime
import difflib
import functools
import os
import pathlib
import socket
import tempfile
import threading
import time
import unittest

from support import Daemon, clara, explained, identity, kept_in, look_again, peer, put, request

UTC = datetime.timezone.utc


class Cable:
    """Between the daemon and the record: can be pulled out and put back."""

    def __init__(self, base):
        host, port = base.removeprefix("http://").split(":")
        self.to, self.plugged, self.open = (host, int(port)), True, set()
        self.listener = socket.create_server(("127.0.0.1", 0))
        self.base = f"http://127.0.0.1:{self.listener.getsockname()[1]}"
        threading.Thread(target=self.accept, daemon=True).start()

    def accept(self):
        while True:
            try:
                near, _ = self.listener.accept()
            except OSError:
                return
            if not self.plugged:
                near.close()
                continue
            far = socket.create_connection(self.to)
            self.open |= {near, far}
            for one, other in ((near, far), (far, near)):
                threading.Thread(target=self.carry, args=(one, other), daemon=True).start()

    @staticmethod
    def carry(one, other):
        with contextlib.suppress(OSError):
            while data := one.recv(65536):
                other.sendall(data)
        for end in (one, other):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def pull(self):
        self.plugged = False
        for end in list(self.open):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)

    def plug(self):
        self.plugged = True


FAKETIME = "/usr/lib/x86_64-linux-gnu/faketime/libfaketimeMT.so.1"


@contextlib.contextmanager
def a_clock(place):
    """Whoever is started within has the real clock, moved by what the function that this yields is told. libfaketime leaves the counting clock alone, as a
    machine does that is set."""
    offset = pathlib.Path(place) / "offset"
    offset.write_text("+0")
    library = next((str(p) for p in pathlib.Path("/usr/lib").glob("*/faketime/libfaketimeMT.so.1")), FAKETIME)
    keep = dict(os.environ)
    os.environ.update(LD_PRELOAD=library, FAKETIME_TIMESTAMP_FILE=str(offset), FAKETIME_NO_CACHE="1", FAKETIME_DONT_FAKE_MONOTONIC="1")

    def set_clock(text):
        there = offset.with_suffix(".new")
        there.write_text(text)
        there.rename(offset)  # whole or not at all for who reads it
    try:
        yield set_clock
    finally:
        os.environ.clear()
        os.environ.update(keep)


def moved(value, shift):
    """Every instant of a resource, moved."""
    if isinstance(value, dict):
        return {k: moved(v, shift) for k, v in value.items()}
    if isinstance(value, list):
        return [moved(v, shift) for v in value]
    if isinstance(value, str) and len(value) >= 20 and value[4:5] == "-" and value[10:11] == "T":
        return (datetime.datetime.fromisoformat(value.replace("Z", "+00:00")) + shift).astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
    return value


class ThreeDays(unittest.TestCase):
    @functools.cache
    def told(self, end, late):
        """What a daemon says that was sent every fact, in time or only now: of a case that it has seen end it says which check that ended."""
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            if late:
                daemon.move_clock(end)
            for step in clara():
                if not late:
                    daemon.move_clock(step.at)
                daemon.put(step.resource)
            daemon.move_clock(end)
            daemon.settle()
            return explained(daemon)

    def outage(self, before, restart):
        """`before` steps reach the daemon, then the cable is out for 72 h of its clock and of the record's, which goes on."""
        steps = clara()
        end = steps[max(0, before - 1)].at + datetime.timedelta(hours=72)
        with contextlib.ExitStack() as stack:
            place = stack.enter_context(tempfile.TemporaryDirectory())
            with a_clock(place) as set_clock:
                base = stack.enter_context(peer("--strict"))
            cable = Cable(base)
            daemon = Daemon(place, record=cable.base, look_seconds=0, extra="[limits]\nlongest_backoff_seconds = 1")

            def go_on_to(at):
                set_clock(f"{(at - datetime.datetime.now(UTC)).total_seconds():+.0f}")
                daemon.move_clock(at)
            with daemon:
                for step in steps[:before]:
                    go_on_to(step.at)
                    put(base, step.resource)
                look_again(daemon)
                cable.pull()
                for n, step in enumerate(steps[before:]):
                    go_on_to(step.at)
                    put(base, step.resource)
                    if restart and n == 2:
                        daemon.kill()
                        daemon.clock_from = step.at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")
                        daemon.start()
                status = look_again(daemon)
                self.assertTrue(any("could not be asked" in alarm or "down" in alarm for alarm in status["alarms"]), status["alarms"])
                for hours in range(6, 73, 6):
                    at = steps[max(0, before - 1)].at + datetime.timedelta(hours=hours)
                    if at > steps[-1].at:
                        go_on_to(at)
                cable.plug()
                time.sleep(1.5)  # the pause after failures
                for _ in range(4):
                    status = look_again(daemon)
                for _ in range(100):
                    if not status["alarms"] and status["writes"]["pending"] == 0:
                        break
                    time.sleep(0.1)
                    status = look_again(daemon)
                self.assertEqual((status["alarms"], status["writes"]["pending"], status["writes"]["dead"]), ([], 0, 0))
                everything = kept_in(base)
                dated = [datetime.datetime.fromisoformat(r["meta"]["lastUpdated"].replace("Z", "+00:00")) for r in everything]
                self.assertLess(min(dated) - steps[0].at, datetime.timedelta(hours=1), "the record's clock is that of the story")
                self.assertLess(abs(max(dated) - end), datetime.timedelta(hours=1), "and went on with it")
                for kind in ("Task", "CarePlan", "DocumentReference"):
                    identities = [identity(r) for r in everything if r["resourceType"] == kind]
                    self.assertEqual(len(identities), len(set(identities)), f"{kind} written twice")
                self.assertEqual(sum(r["resourceType"] == "CarePlan" for r in everything), 1)
                return explained(daemon), end

    def test_out_from_the_middle_of_an_evening(self):
        text, end = self.outage(before=9, restart=False)
        self.assertTrue(text == self.told(end, False), apart(text, self.told(end, False)))

    def test_out_before_the_patient_was_known_and_killed_meanwhile(self):
        text, end = self.outage(before=0, restart=True)
        self.assertTrue(text == self.told(end, True), apart(text, self.told(end, True)))


def apart(text, expected):
    return "\n".join(difflib.unified_diff(expected.splitlines(), text.splitlines(), lineterm="", n=0))[:2000]


class AClockThatJumps(unittest.TestCase):
    """The real clock of a real daemon, moved under its feet."""

    def steps(self):
        """The evening of the story, so that it is now."""
        steps = clara()
        shift = datetime.datetime.now(UTC).replace(microsecond=0) - steps[-1].at
        return [moved(step.resource, shift) for step in steps]

    @contextlib.contextmanager
    def daemon(self, place, base):
        daemon = Daemon(place, record=base, look_seconds=0, clock_from=None)
        with a_clock(place) as set_clock:
            daemon.start()
        try:
            yield daemon, set_clock
        finally:
            daemon.stop()

    def test_ten_minutes_both_ways(self):
        with tempfile.TemporaryDirectory() as place, peer() as base, self.daemon(place, base) as (daemon, set_clock):
            resources = self.steps()
            for resource in resources[:-2]:
                put(base, resource)
            self.assertEqual(look_again(daemon)["alarms"], [])
            at = datetime.datetime.fromisoformat(daemon.status()["now"].replace("Z", "+00:00"))
            set_clock("+600")
            status = look_again(daemon)
            moved = datetime.datetime.fromisoformat(status["now"].replace("Z", "+00:00"))
            self.assertAlmostEqual((moved - at).total_seconds(), 600, delta=30)
            self.assertTrue(any("went ahead by" in alarm for alarm in status["alarms"]), status["alarms"])
            self.assertTrue(any("ahead of that of the record" in alarm for alarm in status["alarms"]), status["alarms"])
            put(base, resources[-2])
            look_again(daemon)
            set_clock("-0")
            put(base, resources[-1])
            status = look_again(daemon)
            back = datetime.datetime.fromisoformat(status["now"].replace("Z", "+00:00"))
            self.assertGreaterEqual(back, moved, "plans never go back")
            self.assertTrue(any("behind what it was" in alarm for alarm in status["alarms"]), status["alarms"])
            self.assertEqual((status["events"]["pending"], status["writes"]["pending"], status["writes"]["dead"]), (0, 0, 0))
            everything = kept_in(base)
            tasks = [identity(r) for r in everything if r["resourceType"] == "Task"]
            self.assertEqual(len(tasks), len(set(tasks)), "Task written twice")
            self.assertEqual(sum(r["resourceType"] == "CarePlan" for r in everything), 1)
            self.assertTrue(tasks)
            daemon.kill()  # a start on a clock that is behind the store's last reading
            daemon.start()
            status = look_again(daemon)
            self.assertGreaterEqual(datetime.datetime.fromisoformat(status["now"].replace("Z", "+00:00")), back)
            self.assertTrue(any("behind what it was" in alarm for alarm in status["alarms"]), status["alarms"])


if __name__ == "__main__":
    unittest.main(verbosity=2)
