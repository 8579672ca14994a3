"""Against a real third-party FHIR server: transactions arrive and can be read back, notifications come in by rest-hook, nothing is doubled."""
import json
import tempfile
import time
import unittest

from support import Daemon, identity, peer, quiet, request, search, story, subscribe

class Record(unittest.TestCase):
    def play(self, daemon, base, steps):
        for step in steps:
            daemon.move_clock(step.at)
            status, answer = request("PUT", f"{base}/{step.resource['resourceType']}/{step.resource['id']}", step.resource)
            self.assertIn(status, (200, 201), answer)
            quiet(daemon, base)

    def check_no_doubles(self, base):
        for kind in ("Task", "CarePlan", "DocumentReference", "GuidanceResponse"):
            identities = [identity(r) for r in search(base, kind)]
            self.assertEqual(len(identities), len(set(identities)), f"{kind} written twice")

    def test_a_case_in_the_record(self):
        steps = [s for s in story("recovery_evening") if "clara" in json.dumps(s.resource)]
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base:
            with Daemon(place, record=base) as daemon:
                subscribe(daemon, base)
                self.play(daemon, base, steps)
                status = quiet(daemon, base)
                self.assertEqual(status["alarms"], [])
                plans = search(base, "CarePlan")
                self.assertEqual(len([p for p in plans if p["status"] != "revoked"]), 1)
                current = [d for d in search(base, "DocumentReference") if d["status"] == "current"]
                self.assertEqual(len(current), 1)
                url = current[0]["content"][0]["attachment"]["url"]
                self.assertEqual(request("GET", f"{base}/{url}")[1]["contentType"], "application/pdf")
                self.assertTrue(search(base, "Task?status=requested"))
                self.check_no_doubles(base)

    def test_a_claimed_task_is_left_alone(self):
        steps = [s for s in story("recovery_evening") if "clara" in json.dumps(s.resource)]
        before, after = steps[:-6], steps[-6:]
        with tempfile.TemporaryDirectory() as place, peer("--strict") as base:
            with Daemon(place, record=base) as daemon:
                subscribe(daemon, base)
                self.play(daemon, base, before)
                task = search(base, "Task?status=requested")[0]
                task["status"] = "in-progress"
                task["note"] = [{"text": "I am at the bed (invented)"}]
                status, claimed = request("PUT", f"{base}/Task/{task['id']}", task)
                self.assertEqual(status, 200, claimed)
                quiet(daemon, base)
                self.play(daemon, base, after)
                quiet(daemon, base)
                found = request("GET", f"{base}/Task/{task['id']}")[1]
                self.assertEqual(found["status"], "in-progress")
                self.assertEqual(found["note"][0]["text"], "I am at the bed (invented)")
                self.assertEqual(found["meta"]["versionId"], claimed["meta"]["versionId"], "written over")
                self.check_no_doubles(base)

    def test_a_patient_without_the_test_label_is_not_written_for(self):
        steps = [s for s in story("recovery_evening") if "clara" in json.dumps(s.resource)][:6]
        with tempfile.TemporaryDirectory() as place, peer() as base:
            with Daemon(place, record=base) as daemon:
                subscribe(daemon, base)
                for step in steps:
                    step.resource.get("meta", {}).pop("security", None)
                    daemon.move_clock(step.at)
                    request("PUT", f"{base}/{step.resource['resourceType']}/{step.resource['id']}", step.resource)
                time.sleep(0.5)
                request("POST", f"{base}/$peer/settle")
                status = daemon.settle()
                self.assertEqual(search(base, "CarePlan") + search(base, "Task"), [])
                self.assertTrue(any("HTEST" in alarm for alarm in status["alarms"]), status["alarms"])
                self.assertGreaterEqual(status["writes"]["held"], 1)


if __name__ == "__main__":
    unittest.main(verbosity=2)
