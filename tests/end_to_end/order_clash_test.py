"""Orders that clash with the plan, as DetectedIssue: raised, changed, ended, left to whoever settles them, on each rung, in R4 and R5, and served here where
the record takes none. Invented patients and orders; against a real third-party FHIR server."""
import datetime
import json
import unittest

from documents_test import PATIENT, evening, settings
from support import clara, get, identity, put, request, search
from writing_test import CONFIDENTIALITY, Writing, is_ours

CLASH = "https://aftersheath.example/fhir/CodeSystem/order-clash"
ACT_CODE = "http://terminology.hl7.org/CodeSystem/v3-ActCode"
META = {"security": [{"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST"}]}


def drug(status="active", **more):
    coding = {"system": "http://www.nlm.nih.gov/research/umls/rxnorm", "code": "67108", "display": "enoxaparin"}
    return {"resourceType": "MedicationRequest", "id": "clara-order", "meta": META, "status": status, "intent": "order", "subject": {"reference": "Patient/clara"},
            "medicationCodeableConcept": {"coding": [coding], "text": "enoxaparin 40 mg (invented)"}, **more}


def rest(hours, status="active"):
    return {"resourceType": "ServiceRequest", "id": "clara-rest", "meta": META, "status": status, "intent": "order", "subject": {"reference": "Patient/clara"}, "code": {"text": "bed rest"},
            "quantityQuantity": {"value": hours, "unit": "h", "system": "http://unitsofmeasure.org", "code": "h"}}


def over(issue):
    return any(code["system"] == CLASH for one in issue.get("mitigation", []) for code in one["action"].get("coding", []))


class Clash(Writing):
    def start(self, daemon, until=-6):
        """The sheath is in and the facts are there."""
        steps = clara()[:until]
        for step in steps:
            put(self.base, step.resource)
        daemon.move_clock(steps[-1].at)
        self.look(daemon)
        daemon.let_settle()
        self.look(daemon)

    def chart(self, daemon, resource):
        put(self.base, resource)
        daemon.move_clock(daemon.now + datetime.timedelta(minutes=1))
        self.look(daemon)
        return self.look(daemon)

    def issues(self, at=None):
        return [r for r in search(at or self.base, "DetectedIssue") if identity(r)]

    def one(self, at=None):
        found = self.issues(at)
        self.assertEqual(len(found), 1, found)
        return found[0]


class InTheRecord(Clash):
    def test_a_drug_that_is_ordered_too_early_is_told_until_the_order_ends(self):
        with self.daemon() as daemon:
            self.start(daemon)
            self.assertEqual(self.issues(), [])
            status = self.chart(daemon, drug())
            self.assertEqual(status["alarms"], [])
            issue = self.one()
            self.assertEqual((issue["status"], issue["severity"], [c["code"] for c in issue["code"]["coding"]]), ("final", "high", ["TIME", "drug"]))
            plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
            self.assertEqual([r["reference"] for r in issue["implicated"]], ["MedicationRequest/clara-order", f"CarePlan/{plan['id']}", "Procedure/clara-case"])
            self.assertIn("enoxaparin", issue["detail"])
            self.assertIn(issue["detail"].split(".")[0], issue["text"]["div"])
            before = issue["meta"]["versionId"]
            self.chart(daemon, drug())  # again in another version: nothing new is said
            self.assertEqual(self.one()["meta"]["versionId"], before)
            self.chart(daemon, drug("stopped"))
            ended = self.one()
            self.assertTrue(over(ended))
            self.assertEqual(ended["status"], "final")  # R4 has no other word for it
            self.assertIn("CANCELLED. The order and the plan no longer clash.", ended["text"]["div"])
            self.chart(daemon, drug())
            self.assertEqual([over(i) for i in sorted(self.issues(), key=lambda i: i["meta"]["lastUpdated"])], [True, False], "a clash that comes again is another")
            self.valid([r for r in self.dump(history=True) if is_ours(r)])

    def test_what_people_add_is_kept_and_what_they_put_aside_stays_so(self):
        with self.daemon() as daemon:
            self.start(daemon)
            self.chart(daemon, drug())
            self.chart(daemon, rest(8))
            self.assertEqual(len(self.issues()), 2)
            aside, kept = sorted(self.issues(), key=lambda i: i["code"]["coding"][1]["code"] != "drug")
            left = ""
            spoken = {"action": {"text": "Spoken about with the prescriber (invented)"}, "date": "2026-03-02T18:00:00+01:00"}
            for issue, change in ((aside, {"status": "cancelled"}), (kept, {"mitigation": [spoken], "extension": [*kept["extension"], {"url": "https://hospital.example/seen", "valueDecimal": 1.50}]})):
                status, answer = request("PUT", f"{self.base}/DetectedIssue/{issue['id']}", {**issue, **change}, {"If-Match": f'W/"{issue["meta"]["versionId"]}"'})
                self.assertEqual(status, 200, answer)
                left = answer["meta"]["versionId"] if issue is aside else left
            self.chart(daemon, rest(10))
            now = get(self.base, f"DetectedIssue/{kept['id']}")
            self.assertIn("10 h", now["detail"])
            self.assertEqual(now["mitigation"], [spoken])
            self.assertIn("https://hospital.example/seen", json.dumps(now))
            self.chart(daemon, drug("stopped"))
            self.chart(daemon, rest(10, "revoked"))
            now = get(self.base, f"DetectedIssue/{kept['id']}")
            self.assertEqual((len(now["mitigation"]), now["mitigation"][0], over(now)), (2, spoken, True))
            self.assertEqual(get(self.base, f"DetectedIssue/{aside['id']}")["meta"]["versionId"], left, "settled by a person, and written over")

    def test_a_case_that_is_closed_closes_its_clashes(self):
        with self.daemon() as daemon:
            self.start(daemon)
            self.chart(daemon, drug())
            put(self.base, {**get(self.base, "Procedure/clara-case"), "status": "entered-in-error"})
            self.chart(daemon, drug())
            self.assertEqual((self.one()["status"], over(self.one())), ("entered-in-error", True))
            self.valid([r for r in self.dump() if is_ours(r)])

    def test_the_labels_of_the_facts_stand_on_it_and_on_all_else(self):
        psy = {"system": ACT_CODE, "code": "PSY", "display": "psychiatry disorder information sensitivity"}
        with self.daemon() as daemon:
            self.start(daemon)
            self.assertNotIn('"PSY"', json.dumps([r for r in self.dump() if is_ours(r)]))
            labelled = {**drug(), "meta": {"security": [*META["security"], psy, {"system": CONFIDENTIALITY, "code": "R"}]}}
            self.chart(daemon, labelled)
            self.chart(daemon, rest(8))
            standing = [r for r in self.dump() if is_ours(r) and r.get("status") in ("active", "requested", "final", "success", "data-required")]
            self.assertLessEqual({"CarePlan", "Task", "GuidanceResponse", "DetectedIssue"}, {r["resourceType"] for r in standing})
            for resource in standing:
                self.assertIn(psy, resource["meta"]["security"], f"{resource['resourceType']}/{resource['id']}")
                self.assertIn("R", [label["code"] for label in resource["meta"]["security"]])
            document = [r for r in self.dump() if r["resourceType"] == "DocumentReference"][-1]
            self.assertIn('"PSY"', json.dumps(document["meta"]))
            self.valid([r for r in self.dump() if is_ours(r)])

    def test_in_single_writes_it_comes_after_the_plan(self):
        request("POST", f"{self.base}/$peer/personality", {"name": "no-transactions"})
        with self.daemon() as daemon:
            self.start(daemon)
            self.assertEqual(self.chart(daemon, drug())["alarms"], [])
            self.assertFalse(over(self.one()))
            self.chart(daemon, drug("stopped"))
            self.assertTrue(over(self.one()))
            self.valid([r for r in self.dump() if is_ours(r)])


class Refused(Clash):
    """A record that takes plans and Tasks and no DetectedIssue: the plan does not wait for it."""

    def refused(self, options, **more):
        request("POST", f"{self.base}/$peer/personality", {"name": "refuses-create", "options": {"types": ["DetectedIssue"], "updates": True, **options}})
        with self.daemon(extra="[limits]\nlongest_backoff_seconds = 1", **more) as daemon:
            self.start(daemon)
            status = self.chart(daemon, drug())
            self.assertEqual(status["alarms"], [])
            self.assertEqual(status["writes"]["dead"], 0)
            self.assertIn("DetectedIssue) are served here", status["record"]["writing"])
            self.assertEqual(self.issues(), [])
            served = f"{daemon.public}/fhir"
            issue = self.one(served)
            self.assertEqual((issue["status"], issue["id"]), ("final", identity(issue)))
            self.assertEqual(self.issues(f"{served}")[0], get(served, f"DetectedIssue/{issue['id']}"))
            for query in ("patient=Patient/clara", "implicated=MedicationRequest/clara-order", "code=drug", f"identifier={identity(issue)}"):
                self.assertEqual(len(search(served, f"DetectedIssue?{query}")), 1, query)
            tasks = [t for t in search(self.base, "Task") if t["status"] == "requested"]
            daemon.move_clock(daemon.now + datetime.timedelta(minutes=50))
            self.look(daemon)
            self.assertNotEqual([t["id"] for t in search(self.base, "Task") if t["status"] == "requested"], [t["id"] for t in tasks], "the plan stands still")
            daemon.kill()
            daemon.clock_from = f"{daemon.now.astimezone(datetime.timezone.utc):%Y-%m-%dT%H:%M:%SZ}"
            daemon.start()
            self.chart(daemon, rest(8))  # asked of the record once more, and served here as well
            served = f"{daemon.public}/fhir"
            self.assertEqual(sorted(i["code"]["coding"][1]["code"] for i in self.issues(served)), ["bed-rest", "drug"])
            self.chart(daemon, drug("stopped"))
            self.assertEqual({i["code"]["coding"][1]["code"]: over(i) for i in self.issues(served)}, {"bed-rest": False, "drug": True})
            self.valid(self.issues(served) + [r for r in self.dump() if is_ours(r)])

    def test_in_a_transaction(self):
        self.refused({"status": 422})

    def test_by_a_scope_that_is_not_granted(self):
        self.refused({"status": 403})

    def test_as_an_unknown_type(self):
        self.refused({"status": 404})

    def test_in_single_writes(self):
        request("POST", f"{self.base}/$peer/personality", {"name": "no-transactions"})
        self.refused({"status": 405})


class InR5(Clash):
    PEER = ()

    def setUp(self):
        super().setUp()
        request("POST", f"{self.base}/$peer/personality", {"name": "any-version"})

    def test_a_clash_that_is_over_is_mitigated(self):
        with self.daemon(record_more='fhir = "R5"') as daemon:
            self.start(daemon)
            self.chart(daemon, drug())
            self.assertEqual((self.one()["status"], self.one()["subject"]["reference"]), ("final", "Patient/clara"))
            self.chart(daemon, drug(dispenseRequest={"quantity": {"value": 1}}))
            self.chart(daemon, drug("stopped"))
            self.assertEqual((self.one()["status"], over(self.one()), "patient" in self.one()), ("mitigated", True, False))
            self.valid([r for r in self.dump(history=True) if is_ours(r)], r5=True)


class Documents(Clash):
    PEER = ("--personality", "large-hospital")

    def test_it_is_served_with_the_plan(self):
        import pathlib
        for kind in ("hospital", "recovery"):
            put(self.base, {"resourceType": "Organization", "id": kind, "name": f"{kind} (invented)"})
        (pathlib.Path(self.place.name) / "roster.txt").write_text(PATIENT + "\n")
        with self.daemon(record_more='writing = "documents"', extra=settings()) as daemon:
            for at, resource in evening()[:-4]:
                daemon.move_clock(at)
                put(self.base, resource)
            self.look(daemon)
            order = {**drug(), "subject": {"reference": PATIENT}, "category": [{"coding": [{"system": "http://terminology.hl7.org/CodeSystem/medicationrequest-category", "code": "inpatient"}]}]}
            self.chart(daemon, order)
            served = f"{daemon.public}/fhir"
            self.assertEqual(self.one(served)["implicated"][0]["reference"], "MedicationRequest/clara-order")
            self.assertEqual([r for r in self.dump() if r["resourceType"] == "DetectedIssue"], [])
            self.valid(self.issues(served))


if __name__ == "__main__":
    unittest.main(verbosity=2)
