"""Against a real third-party FHIR server: transactions arrive and can be read back, notifications come in by rest-hook, nothing is doubled."""
import json
import tempfile
import time
import unittest

from support import Daemon, peer, request, story

ITEM = "https://aftersheath.example/fhir/NamingSystem/item"


def search(base, query):
    """Every match, all pages."""
    found, url = [], f"{base}/{query}"
    while url:
        status, bundle = request("GET", url, headers={"Cache-Control": "no-cache"})
        assert status == 200, bundle
        found += [entry["resource"] for entry in bundle.get("entry", [])]
        url = next((link["url"] for link in bundle.get("link", []) if link["relation"] == "next"), None)
    return found


def identity(resource):
    identifiers = resource.get("identifier", [])
    identifiers = identifiers if isinstance(identifiers, list) else [identifiers]
    return next((i["value"] for i in identifiers if i.get("system") == ITEM), None)


def quiet(daemon, base):
    """Until neither the daemon nor the peer has anything under way."""
    last = None
    for _ in range(200):
        request("POST", f"{base}/$peer/settle")
        status = daemon.settle()
        now = json.dumps([status["events"], status["writes"]])
        if now == last and status["events"]["pending"] == 0 and status["writes"]["pending"] == 0:
            return status
        last = now
        time.sleep(0.05)
    raise AssertionError(f"never quiet: {status}")


class Record(unittest.TestCase):
    def subscribe(self, daemon, base):
        for kind in ("Procedure", "Observation", "MedicationAdministration", "MedicationStatement", "Task", "Patient", "Encounter", "CarePlan"):
            status, made = request("POST", f"{base}/Subscription", {
                "resourceType": "Subscription", "status": "requested", "reason": "aftercare", "criteria": f"{kind}?",
                "channel": {"type": "rest-hook", "endpoint": f"{daemon.public}/fhir", "payload": "application/fhir+json"}})
            self.assertEqual(status, 201, made)

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
                self.subscribe(daemon, base)
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
                self.subscribe(daemon, base)
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
                self.subscribe(daemon, base)
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
