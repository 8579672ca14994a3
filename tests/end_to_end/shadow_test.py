"""Shadow mode: everything is computed and kept, nothing is sent, and what would stand can be compared with what a record that is written to shows. Against a real
third-party FHIR server."""
import collections
import datetime
import json
import subprocess
import tempfile
import unittest

from support import Daemon, PROGRAM, clara, identity, peer, put, quiet, request, search, subscribe, validate

OURS = ("CarePlan", "Task", "DocumentReference", "GuidanceResponse", "Provenance")


def shown(resources):
    """What a nurse would see, but for the minutes that an answer takes: open and ended work, the plan's state, the sheet that hangs."""
    tasks = collections.Counter((t["code"]["coding"][0]["code"], t["status"]) for t in resources if t["resourceType"] == "Task")
    plans = [p["status"] for p in resources if p["resourceType"] == "CarePlan"]
    sheets = len([d for d in resources if d["resourceType"] == "DocumentReference" and d["status"] == "current"])
    return tasks, plans, sheets


class Shadow(unittest.TestCase):
    maxDiff = None

    def setUp(self):
        self.places = [tempfile.TemporaryDirectory() for _ in range(2)]
        self.peer = peer("--strict")
        self.base = self.peer.__enter__()

    def tearDown(self):
        self.peer.__exit__(None, None, None)
        for place in self.places:
            place.cleanup()

    def daemon(self, mode, place=0):
        return Daemon(self.places[place].name, record=self.base, mode=mode)

    def play(self, daemon, steps):
        for step in steps:
            daemon.move_clock(step.at)
            put(self.base, step.resource)
            request("POST", f"{self.base}/$peer/settle")
            daemon.settle()
        return daemon.status()

    def standing(self, daemon):
        status, lines = request("GET", f"{daemon.admin}/shadow")
        self.assertEqual(status, 200)
        lines = lines if isinstance(lines, str) else json.dumps(lines)
        return [json.loads(line) for line in lines.splitlines()]

    def in_record(self):
        return [r for kind in OURS for r in search(self.base, kind)]

    def test_all_is_computed_and_nothing_is_sent(self):
        with self.daemon("shadow") as daemon:
            subscribe(daemon, self.base)
            status = self.play(daemon, clara())
            self.assertEqual(status["alarms"], [])
            self.assertEqual({kind: len(search(self.base, kind)) for kind in OURS}, dict.fromkeys(OURS, 0))
            counts = status["shadowWrites"]
            self.assertEqual(counts["queued"], counts["delivered"] + counts["superseded"])
            self.assertEqual(status["writes"]["queued"], 0)
            in_shadow = self.standing(daemon)
            self.assertIn(request("GET", f"{daemon.public}/fhir/Task?patient=clara")[0], (404, 405), "a list of work that nobody shall work from")
        identities = [identity(r) for r in in_shadow if identity(r)]
        self.assertEqual(len(identities), len(set(identities)))
        # The command says the same while the daemon is down.
        said = subprocess.run([PROGRAM, "shadow", "--config", f"{self.places[0].name}/aftersheath.toml"], capture_output=True, text=True, check=True).stdout
        self.assertEqual([json.loads(line) for line in said.splitlines()], in_shadow)
        file = f"{self.places[0].name}/shadow.ndjson"
        with open(file, "w", encoding="utf-8") as out:
            out.writelines(json.dumps(r) + "\n" for r in in_shadow if r["resourceType"] != "Binary")
        code, output = validate("--quiet", file)
        self.assertEqual(code, 0, output)
        # What a daemon that writes has put into a record of its own is the same.
        with peer("--strict") as self.base, self.daemon("live", place=1) as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara())
            quiet(daemon, self.base)
            self.assertEqual(shown(self.in_record()), shown(in_shadow))

    def test_another_mode_begins_anew_and_doubles_nothing(self):
        with self.daemon("shadow") as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            self.assertTrue([t for t in self.standing(daemon) if t["resourceType"] == "Task"])
        with self.daemon("live") as daemon:
            subscribe(daemon, self.base)
            daemon.move_clock(clara()[-5].at)
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.assertEqual([p["status"] for p in search(self.base, "CarePlan")], ["active"])
            tasks = [identity(t) for t in search(self.base, "Task")]
            self.assertTrue(tasks)
            self.assertEqual(len(tasks), len(set(tasks)))
        before = {(r["resourceType"], r["id"]): r["meta"]["versionId"] for r in self.in_record()}
        with self.daemon("shadow") as daemon:  # the ward wants to stop it for a while
            subscribe(daemon, self.base)
            daemon.move_clock(clara()[-5].at + datetime.timedelta(minutes=5))
            daemon.settle()
            self.assertEqual({(r["resourceType"], r["id"]): r["meta"]["versionId"] for r in self.in_record()}, before)
            self.assertTrue([t for t in self.standing(daemon) if t["resourceType"] == "Task"])
        with self.daemon("live") as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[-4:])
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.assertEqual([p["status"] for p in search(self.base, "CarePlan")], ["active"])
            tasks = [identity(t) for t in search(self.base, "Task")]
            self.assertEqual(len(tasks), len(set(tasks)))
            self.assertEqual(len([d for d in search(self.base, "DocumentReference") if d["status"] == "current"]), 1)

    def test_a_kill_at_any_time_leaves_nothing_half_taken(self):
        with self.daemon("shadow") as daemon:
            subscribe(daemon, self.base)
            for number, step in enumerate(clara()):
                daemon.move_clock(step.at)
                put(self.base, step.resource)
                if number % 3 == 2:
                    daemon.kill()
                    daemon.clock_from = f"{step.at.astimezone(datetime.timezone.utc):%Y-%m-%dT%H:%M:%SZ}"
                    daemon.start()
                    subscribe(daemon, self.base)
            request("POST", f"{self.base}/$peer/settle")
            request("POST", f"{daemon.admin}/look-again")
            daemon.settle()
            status = daemon.status()
            self.assertEqual(status["alarms"], [])
            self.assertEqual(status["shadowWrites"]["pending"], 0)
            standing = self.standing(daemon)
            self.assertEqual([p["status"] for p in standing if p["resourceType"] == "CarePlan"], ["active"])
            self.assertEqual(len([d for d in standing if d["resourceType"] == "DocumentReference" and d["status"] == "current"]), 1)


if __name__ == "__main__":
    unittest.main(verbosity=2)
