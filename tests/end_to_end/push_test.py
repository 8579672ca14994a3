"""Our own Subscriptions at a real third-party FHIR server: made, heard, found again after a kill, mended; and the plan is that of a daemon without push."""
import functools
import json
import pathlib
import re
import socket
import subprocess
import tempfile
import time
import unittest
import urllib.request

from support import PROGRAM, ROOT, Daemon, clara, explained, identity, peer, put, quiet, request, search

HEADER = "X-Sender-Key"


def free_port():
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return one.getsockname()[1]


def subscribed(place, base, criteria="Procedure?;MedicationAdministration?;Observation?;Task?;CarePlan?;Patient?", more="", look_seconds=0):
    public = f"127.0.0.1:{free_port()}"
    return Daemon(place, record=base, look_seconds=look_seconds, public=public, extra=f"""
[subscriptions]
form = "auto"
endpoint = "http://{public}/fhir"
criteria = "{criteria}"
{more}
[limits]
settle_unknown_seconds = 2""")


def ours(base):
    return search(base, "Subscription?_count=50")


def until(true, what, seconds=40):
    end = time.time() + seconds
    while time.time() < end:
        if true():
            return
        time.sleep(0.1)
    raise AssertionError(f"not in {seconds} s: {what}")


def counted(base, subscription):
    """How many events the record has numbered for it."""
    status, bundle = request("GET", f"{base}/Subscription/{subscription}/$status")
    assert status == 200, bundle
    return int(next(p["valueString"] for p in bundle["entry"][0]["resource"]["parameter"] if p["name"] == "events-since-subscription-start"))


def active(daemon, n):
    return lambda: [s["state"] for s in daemon.status()["subscriptions"]["list"]] == ["active"] * n


class Record:
    """A peer that can be started anew on its port, with what it had or without its Subscriptions."""

    def __init__(self, place, *arguments):
        self.place, self.arguments, self.port = pathlib.Path(place), arguments, free_port()
        self.start()

    def start(self, *more):
        self.process = subprocess.Popen([str(ROOT / "tests/peer/node"), str(ROOT / "tests/peer/server.mjs"), "--port", str(self.port), "--until-stdin-closes", *self.arguments, *more],
                                        stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        line = self.process.stdout.readline()
        assert line.startswith("LISTEN "), line
        self.base = line.split()[1]

    def stop(self):
        self.process.stdin.close()
        self.process.wait(timeout=10)
        self.process.stdout.close()

    def restart(self, keeps_subscriptions):
        versions = urllib.request.urlopen(f"{self.base}/$peer/dump?history=1").read().decode().splitlines()
        kept = [v for v in versions if keeps_subscriptions or json.loads(v)["resourceType"] != "Subscription"]
        (self.place / "record.ndjson").write_text("\n".join(kept) + "\n")
        self.stop()
        time.sleep(0.5)
        self.start("--from", str(self.place / "record.ndjson"))


class Push(unittest.TestCase):
    @functools.cache
    def told(self):
        """What a daemon says that was sent every fact."""
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            for step in clara():
                daemon.move_clock(step.at)
                daemon.put(step.resource)
            daemon.settle()
            return explained(daemon)

    def assert_no_task_twice(self, base):
        dump = urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()
        identities = [identity(r) for r in map(json.loads, dump) if r["resourceType"] == "Task"]
        self.assertEqual(len(identities), len(set(identities)), "Task written twice")

    def test_made_heard_and_found_again_after_a_kill(self):
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base:
            foreign = {"resourceType": "Subscription", "status": "requested", "reason": "somebody else's", "criteria": "Encounter?",
                       "channel": {"type": "rest-hook", "endpoint": "http://127.0.0.1:9/elsewhere"}}
            self.assertEqual(request("POST", f"{base}/Subscription", foreign)[0], 201)
            # An interface engine sends here too, with a secret of its own. The Subscriptions carry theirs and need not know it.
            daemon = subscribed(place, base)
            theirs = "of-the-invented-interface-engine-0123456789"
            (daemon.place / "sender.secret").write_text(theirs)
            file = daemon.place / "aftersheath.toml"
            file.write_text(file.read_text().replace("[listen]\n", '[listen]\nsecret_file = "sender.secret"\n', 1))
            daemon.start()
            try:
                until(active(daemon, 6), "six active Subscriptions")
                first = {s["id"]: s for s in ours(base)}
                self.assertEqual(len(first), 7)
                for step in clara():
                    daemon.move_clock(step.at)
                    put(base, step.resource)
                    quiet(daemon, base)
                self.assertEqual(explained(daemon), self.told(), "by push alone: nothing was asked for in rounds")
                self.assertEqual(daemon.status()["refusedSenders"], 0)
                self.assertGreater(sum(s["notices"] for s in daemon.status()["subscriptions"]["list"]), len(clara()) / 2)
                daemon.kill()
                daemon.start()
                until(active(daemon, 6), "six active Subscriptions again")
                daemon.settle()
                self.assertEqual({s["id"] for s in ours(base)}, set(first), "none made twice, none removed")
                self.assertEqual(explained(daemon), self.told())
                self.assert_no_task_twice(base)
                self.secrets(daemon, first.values(), base)
                value = dict(next(s.resource for s in clara() if s.resource["resourceType"] == "Observation"), id="other")
                self.assertEqual(request("PUT", f"{daemon.public}/fhir/Observation/other", value)[0], 401)
                self.assertIn(request("PUT", f"{daemon.public}/fhir/Observation/other", value, {HEADER: theirs})[0], (200, 201))
            finally:
                daemon.stop()

    def secrets(self, daemon, subscriptions, base):
        mine = [s for s in subscriptions if daemon.public in s["channel"]["endpoint"]]
        secrets = {s["channel"]["header"][0].removeprefix(f"{HEADER}: ") for s in mine}
        self.assertEqual(len(secrets), 6, "each has its own")
        self.assertTrue(all(re.fullmatch("[0-9a-f]{64}", s) for s in secrets), "256 bits each")
        value = dict(next(s.resource for s in clara() if s.resource["resourceType"] == "Observation"), id="forged")
        for header in ({}, {HEADER: "0" * 64}, {"X-Other": min(secrets)}):
            status, answer = request("PUT", f"{mine[0]['channel']['endpoint']}/Observation/forged", value, header)
            self.assertEqual(status, 401, answer)
        other = next(s for s in mine if s["id"] != mine[0]["id"])["channel"]["header"][0].removeprefix(f"{HEADER}: ")
        self.assertEqual(request("PUT", f"{mine[0]['channel']['endpoint']}/Observation/forged", value, {HEADER: other})[0], 401, "not that of another Subscription")
        self.assertEqual(request("PUT", f"{mine[0]['channel']['endpoint']}9/Observation/forged", value)[0], 404)
        said = (daemon.place / "daemon.log").read_text() + json.dumps(daemon.status()) + urllib.request.urlopen(f"{daemon.admin}/metrics").read().decode()
        self.assertFalse([s for s in secrets if s in said], "a secret was shown")
        self.assertIn("aftersheath_subscription_active", said)
        self.assertEqual((daemon.place / "aftersheath.db").stat().st_mode & 0o777, 0o600)

    def under(self, *personalities, restarts=(), kills=()):
        """The plan, and the last status, of a daemon whose record pushes badly and is started anew."""
        with tempfile.TemporaryDirectory() as place:
            arguments = [a for p in personalities for a in ("--personality", p)]
            record = Record(place, *arguments)
            daemon = subscribed(pathlib.Path(place) / "daemon", record.base).start()
            try:
                until(active(daemon, 6), "six active Subscriptions")
                for n, step in enumerate(clara()):
                    daemon.move_clock(step.at)
                    put(record.base, step.resource)
                    if n in kills:  # with what is on its way, half written or not yet read
                        time.sleep(0.02 * (n % 4))
                        daemon.kill()
                        daemon.start()
                        daemon.move_clock(step.at)
                    quiet(daemon, record.base)
                    if n in dict(restarts):
                        record.restart(keeps_subscriptions=dict(restarts)[n])
                    if n % 5 == 4:  # what a round of asking finds beside
                        self.assertEqual(request("POST", f"{daemon.admin}/look-again")[0], 200)
                        quiet(daemon, record.base)
                self.assertEqual(request("POST", f"{daemon.admin}/look-again")[0], 200)
                until(lambda: len(ours(record.base)) == 6, "six Subscriptions in the record", 90)  # supervision has rounds of its own
                until(active(daemon, 6), "six active Subscriptions at the end", 90)
                status = quiet(daemon, record.base)
                self.assertEqual(len(ours(record.base)), 6)
                self.assert_no_task_twice(record.base)
                return explained(daemon), status
            finally:
                daemon.stop()
                record.stop()

    def test_a_third_of_the_pushes_is_lost(self):
        self.assertEqual(self.under('lossy-push={"every":3}')[0], self.told())

    def test_a_third_comes_twice_and_a_third_late(self):
        self.assertEqual(self.under('duplicate-push={"every":3}', 'reordered-push={"every":3,"ms":300}')[0], self.told())

    def test_all_of_it_and_the_record_is_started_anew(self):
        steps = len(clara())
        text, _ = self.under('lossy-push={"every":3}', 'duplicate-push={"every":3,"skip":1}', 'reordered-push={"every":3,"skip":2,"ms":200}',
                             restarts=((steps // 3, True), (2 * steps // 3, False)))
        self.assertEqual(text, self.told())

    def test_killed_again_and_again_while_a_third_of_the_pushes_is_lost(self):
        self.assertEqual(self.under('lossy-push={"every":3}', 'duplicate-push={"every":3,"skip":1}', kills=range(1, len(clara()), 3))[0], self.told())

    def by_topic(self, place, base, restart=lambda: None):
        topics = ";".join(f"https://record.example/topic/{kind.lower()} {kind}?" for kind in ("Procedure", "MedicationAdministration", "Observation", "Task", "CarePlan", "Patient"))
        daemon = subscribed(place, base, more=f'topics = "{topics}"\nheartbeat_seconds = 3').start()
        try:
            until(active(daemon, 6), "six active Subscriptions")
            self.assertEqual(daemon.status()["subscriptions"]["form"], "backport")
            for n, step in enumerate(clara()):
                daemon.move_clock(step.at)
                put(base, step.resource)
                quiet(daemon, base)
                if n == len(clara()) // 2:
                    restart()

            def nothing_missing():
                request("POST", f"{base}/$peer/settle")
                rows = daemon.settle()["subscriptions"]["list"]
                return all(row["gapsOpen"] == 0 and row["lastNumber"] == counted(base, row["id"]) for row in rows)
            until(nothing_missing, "every event heard or fetched", 90)
            quiet(daemon, base)
            self.assert_no_task_twice(base)
            return explained(daemon), daemon.status()
        finally:
            daemon.stop()

    def test_numbered_events_a_third_of_them_lost_are_fetched(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", 'lossy-push={"every":3}') as base:
            text, status = self.by_topic(place, base)
            self.assertEqual(text, self.told())
            self.assertGreater(sum(row["gapsOpened"] for row in status["subscriptions"]["list"]), 0)
            self.assertEqual({row["epoch"] for row in status["subscriptions"]["list"]}, {1})
            log = request("GET", f"{base}/$peer/log?kind=request")[1]
            self.assertTrue(any("$events" in line["url"] for line in log))

    def test_a_record_that_counts_anew_opens_an_epoch(self):
        with tempfile.TemporaryDirectory() as place:
            record = Record(place)
            try:
                text, status = self.by_topic(pathlib.Path(place) / "daemon", record.base, lambda: record.restart(keeps_subscriptions=True))
                self.assertEqual(text, self.told())
                self.assertGreater(max(row["epoch"] for row in status["subscriptions"]["list"]), 1)
            finally:
                record.stop()

    def test_a_record_that_gave_up_is_caught_up_with_and_asked_again(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", "push-gives-up") as base:
            daemon = subscribed(place, base).start()
            try:
                until(active(daemon, 6), "six active Subscriptions")
                daemon.stop()
                for step in clara():
                    put(base, step.resource)
                request("POST", f"{base}/$peer/settle")
                self.assertIn("error", {s["status"] for s in ours(base)})
                daemon.start()
                daemon.move_clock(clara()[-1].at)
                until(active(daemon, 6), "six active Subscriptions again")
                self.assertEqual(len(ours(base)), 6)
                self.assertEqual({s["status"] for s in ours(base)}, {"active"})
                quiet(daemon, base)
                self.assertIn("clara", explained(daemon))
            finally:
                daemon.stop()

    def test_a_record_that_takes_none_is_asked(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", 'refuses-create={"types":["Subscription"]}') as base:
            daemon = subscribed(place, base).start()
            try:
                until(lambda: daemon.status()["subscriptions"]["whyNone"], "why there are none")
                check = subprocess.run([PROGRAM, "check", "--connect", "--config", str(daemon.place / "aftersheath.toml")], capture_output=True, text=True)
                self.assertEqual(check.returncode, 0, check.stderr)
                self.assertIn("no Subscriptions of our own: the record's CapabilityStatement offers no Subscriptions", check.stdout)
                for step in clara():
                    daemon.move_clock(step.at)
                    put(base, step.resource)
                    request("POST", f"{daemon.admin}/look-again")
                self.assertEqual(explained(daemon), self.told())
            finally:
                daemon.stop()

    def test_check_says_what_would_be_made(self):
        with tempfile.TemporaryDirectory() as place, peer() as base:
            daemon = subscribed(place, base)
            check = subprocess.run([PROGRAM, "check", "--connect", "--config", str(daemon.place / "aftersheath.toml")], capture_output=True, text=True)
            self.assertIn("6 Subscriptions of form plain, called at http://127.0.0.1:", check.stdout)
            self.assertEqual(ours(base), [])


if __name__ == "__main__":
    unittest.main(verbosity=2)
