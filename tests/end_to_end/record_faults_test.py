"""What goes wrong beside a record: another patient, another writer, a lost store, things deleted. Against a real third-party FHIR server."""
import datetime
import json
import os
import subprocess
import tempfile
import unittest

from support import Daemon, PROGRAM, WATCHED, clara, get, identity, peer, put, quiet, request, search, subscribe

WRITER = "https://aftersheath.example/fhir/CodeSystem/writer"


class RecordFaults(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.peer = peer("--strict")
        self.base = self.peer.__enter__()
        self.patient = next(s.resource for s in clara() if s.resource["resourceType"] == "Patient")

    def tearDown(self):
        self.peer.__exit__(None, None, None)
        self.place.cleanup()

    def daemon(self, **more):
        return Daemon(self.place.name, record=self.base, **more)

    def play(self, daemon, steps):
        for step in steps:
            daemon.move_clock(step.at)
            put(self.base, step.resource)
        quiet(daemon, self.base)

    def of(self, kind, patient=None):
        found = search(self.base, kind)
        if patient is None:
            return found
        return [r for r in found if f"Patient/{patient}" in (r.get("subject", {}).get("reference"), r.get("for", {}).get("reference"))]

    def check_closed(self, patient):
        self.assertEqual({p["status"] for p in self.of("CarePlan", patient)}, {"revoked"})
        self.assertEqual([t["code"]["text"] for t in self.of("Task", patient) if t["status"] in ("requested", "ready")], [])
        self.assertEqual([d["id"] for d in self.of("DocumentReference", patient) if d["status"] == "current"], [])

    def check_one_plan(self, patient):
        self.assertEqual(len([p for p in self.of("CarePlan", patient) if p["status"] in ("draft", "active")]), 1)
        self.assertEqual(len([d for d in self.of("DocumentReference", patient) if d["status"] == "current"]), 1)
        for kind in ("Task", "CarePlan", "DocumentReference", "GuidanceResponse"):
            identities = [identity(r) for r in self.of(kind)]
            self.assertEqual(len(identities), len(set(identities)), f"{kind} written twice")

    def dora(self):
        """A second invented patient."""
        other = json.loads(json.dumps(self.patient).replace("clara", "dora").replace("Clara", "Dora"))
        for number, one in enumerate(other["identifier"]):
            one["value"] = f"DORA-{number}"
        return other

    def test_a_procedure_charted_for_the_wrong_patient(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            self.check_one_plan("clara")
            put(self.base, self.dora())
            index = get(self.base, "Procedure/clara-case")
            index["subject"]["reference"] = "Patient/dora"
            put(self.base, index)
            quiet(daemon, self.base)
            daemon.let_settle()
            status = quiet(daemon, self.base)
            self.check_closed("clara")
            self.check_one_plan("dora")
            self.assertTrue(any("Patient/clara" in a and "Patient/dora" in a for a in status["alarms"]), status["alarms"])

    def test_a_merged_patient_takes_the_case_along(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara())
            before = [p for p in self.of("CarePlan", "clara") if p["status"] == "active"][0]
            other = self.dora()
            other["identifier"] += self.patient["identifier"]
            put(self.base, other)
            merged = get(self.base, "Patient/clara")
            merged["active"] = False
            merged["link"] = [{"other": {"reference": "Patient/dora"}, "type": "replaced-by"}]
            put(self.base, merged)
            quiet(daemon, self.base)
            after = get(self.base, f"CarePlan/{before['id']}")
            self.assertEqual((after["status"], after["subject"]["reference"]), ("active", "Patient/dora"))
            self.check_one_plan("dora")
            self.assertEqual([t["id"] for t in self.of("Task", "clara") if t["status"] == "requested"], [])

    def test_a_dead_patient_is_asked_nothing(self):
        for seen in ("by a notification", "before a write"):
            with self.subTest(seen), self.daemon() as daemon:
                subscribe(daemon, self.base, [k for k in WATCHED if seen == "by a notification" or k != "Patient"])
                self.play(daemon, clara() if seen == "by a notification" else clara()[:-4])
                patient = get(self.base, "Patient/clara")
                patient["deceasedBoolean"] = True
                put(self.base, patient)
                for step in clara()[-4:] if seen == "before a write" else []:
                    put(self.base, step.resource)
                quiet(daemon, self.base)
                self.check_closed("clara")
            self.tearDown()
            self.setUp()

    def test_other_identifiers_close_the_plan_until_a_person_has_looked(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base, [k for k in WATCHED if k != "Patient"])
            self.play(daemon, clara()[:-4])
            daemon.put(get(self.base, "Patient/clara"))
            changed = self.dora()
            changed["id"] = "clara"
            put(self.base, changed)
            self.play(daemon, clara()[-4:])
            status = quiet(daemon, self.base)
            self.check_closed("clara")
            self.assertTrue(any("identifiers" in a for a in status["alarms"]), status["alarms"])
            restored = dict(self.patient)
            put(self.base, restored)
            daemon.put(get(self.base, "Patient/clara"))
            quiet(daemon, self.base)
            daemon.let_settle()
            status = quiet(daemon, self.base)
            self.check_one_plan("clara")
            self.assertEqual(status["alarms"], [])

    def test_another_installation_at_work_stops_the_writing(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            plan = [p for p in self.of("CarePlan") if p["status"] == "active"][0]
            plan["meta"]["tag"] = [{"system": WRITER, "code": "another-installation"}]
            foreign = put(self.base, plan)
            quiet(daemon, self.base)
            self.play(daemon, clara()[-4:])
            status = quiet(daemon, self.base)
            self.assertEqual(get(self.base, f"CarePlan/{plan['id']}")["meta"]["versionId"], foreign["meta"]["versionId"])
            self.assertTrue(any("another-installation" in a for a in status["alarms"]), status["alarms"])
            plan["meta"].pop("tag")
            put(self.base, plan)
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.check_one_plan("clara")

    def test_a_lost_store_takes_its_own_items_up_again(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            installation = daemon.status()["program"]["installation"]
            claimed = [t for t in self.of("Task") if t["status"] == "requested"][0]
            claimed.update(status="in-progress", note=[{"text": "I am at the bed (invented)"}])
            claimed = put(self.base, claimed)
            quiet(daemon, self.base)
        before = {kind: len(self.of(kind)) for kind in ("Task", "CarePlan", "DocumentReference")}
        for name in os.listdir(self.place.name):
            if name.startswith("aftersheath.db"):
                os.remove(os.path.join(self.place.name, name))
        facts = [s for s in clara() if s.resource["resourceType"] != "Task"]
        with self.daemon(clock_from="2026-03-02T20:00:00Z") as daemon:  # a stranger: it must not write
            for step in facts[:-4]:
                daemon.put(get(self.base, f"{step.resource['resourceType']}/{step.resource['id']}"))
            status = quiet(daemon, self.base)
            self.assertTrue(any(installation in a for a in status["alarms"]), status["alarms"])
            self.assertEqual(before, {kind: len(self.of(kind)) for kind in before})
        for name in os.listdir(self.place.name):
            if name.startswith("aftersheath.db"):
                os.remove(os.path.join(self.place.name, name))
        with self.daemon(clock_from="2026-03-02T20:00:00Z", takes_over=installation) as daemon:
            subscribe(daemon, self.base)
            for step in facts:
                daemon.put(get(self.base, f"{step.resource['resourceType']}/{step.resource['id']}") if step in facts[:-4] else step.resource)
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.check_one_plan("clara")
            self.assertEqual(get(self.base, f"Task/{claimed['id']}")["meta"]["versionId"], claimed["meta"]["versionId"], "written over")
            self.assertEqual(len([p for p in self.of("CarePlan")]), 1)

    def test_an_older_copy_of_the_store_put_back(self):
        copy = os.path.join(self.place.name, "copy.db")
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-5])
            self.assertEqual(request("POST", f"{daemon.admin}/backup?to={copy}")[0], 200)
            self.play(daemon, clara()[-5:-1])
        for name in os.listdir(self.place.name):
            if name.startswith("aftersheath.db"):
                os.remove(os.path.join(self.place.name, name))
        done = subprocess.run([PROGRAM, "restore", "--config", os.path.join(self.place.name, "aftersheath.toml"), copy], capture_output=True, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        with self.daemon(clock_from="2026-03-02T20:00:00Z") as daemon:
            subscribe(daemon, self.base)
            for step in clara()[-5:]:
                put(self.base, step.resource)
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.check_one_plan("clara")
            self.assertEqual(len(self.of("CarePlan")), 1)

    def test_a_deleted_plan_is_made_anew_and_its_tasks_follow(self):
        for told in (True, False):
            with self.subTest(told=told), self.daemon() as daemon:
                subscribe(daemon, self.base, [k for k in WATCHED if told or k != "CarePlan"])
                self.play(daemon, clara()[:-4])
                plan = [p for p in self.of("CarePlan") if p["status"] == "active"][0]
                self.assertIn(request("DELETE", f"{self.base}/CarePlan/{plan['id']}")[0], (200, 204))
                if told:
                    request("DELETE", f"{daemon.public}/fhir/CarePlan/{plan['id']}")
                quiet(daemon, self.base)
                self.play(daemon, clara()[-4:])
                status = quiet(daemon, self.base)
                self.assertEqual(status["alarms"], [])
                self.check_one_plan("clara")
                now = [p for p in self.of("CarePlan") if p["status"] == "active"][0]
                open_tasks = [t for t in self.of("Task") if t["status"] == "requested"]
                self.assertEqual({t["focus"]["reference"] for t in open_tasks}, {f"CarePlan/{now['id']}"})
            self.tearDown()
            self.setUp()

    def test_a_claim_before_we_looked_what_became_of_a_write(self):
        """Answers are lost, a nurse takes a Task on before the daemon looks: her version is hers."""
        with self.daemon() as daemon:
            subscribe(daemon, self.base, [k for k in WATCHED if k != "Task"])
            self.play(daemon, clara()[:-4])
            request("POST", f"{self.base}/$peer/personality", {"name": "lost-response", "options": {"every": 1, "what": "transaction", "times": 1}})
            for step in clara()[-4:-2]:
                daemon.move_clock(step.at)
                put(self.base, step.resource)
            claimed = []
            for task in [t for t in self.of("Task") if t["status"] == "requested"]:
                task.update(status="in-progress", note=[{"text": "mine (invented)"}])
                claimed.append(put(self.base, task))
            request("DELETE", f"{self.base}/$peer/personality")
            daemon.kill()
            daemon.start()
            self.play(daemon, clara()[-2:])
            for task in claimed:
                self.assertEqual(get(self.base, f"Task/{task['id']}")["meta"]["versionId"], task["meta"]["versionId"], "written over")

    def test_an_answer_that_names_other_entries_or_places_is_none(self):
        """What became of a write is then found out by identifier; nothing is written twice, or over somebody else's (FHIR R4, RESTful API: the entries of an answer
        stand in the order of the request)."""
        for nature, options in ([], {"kind": "count"}), ([], {"kind": "order"}), ([], {"kind": "ids"}), (["no-transactions"], {"kind": "ids", "what": "write"}):
            with self.subTest(nature=nature, **options), self.daemon(extra="[limits]\nlongest_backoff_seconds = 1\nsettle_unknown_seconds = 1") as daemon:
                for name in nature:
                    request("POST", f"{self.base}/$peer/personality", {"name": name, "options": {}})
                subscribe(daemon, self.base)
                request("POST", f"{self.base}/$peer/personality", {"name": "wrong-answer", "options": {"every": 2, **options}})
                self.play(daemon, clara()[:-4])
                claimed = [t for t in self.of("Task") if t["status"] == "requested"][0]
                claimed.update(status="in-progress", note=[{"text": "mine (invented)"}])
                self.assertEqual(request("PUT", f"{self.base}/Task/{claimed['id']}", claimed, {"If-Match": f'W/"{claimed["meta"]["versionId"]}"'})[0], 200)
                self.play(daemon, clara()[-4:])
                request("POST", f"{self.base}/$peer/personality", {"name": "wrong-answer", "options": {"every": 10**6}})
                quiet(daemon, self.base)
                self.check_one_plan("clara")
                self.assertEqual(get(self.base, f"Task/{claimed['id']}")["note"][0]["text"], "mine (invented)")
            self.tearDown()
            self.setUp()

    def test_two_procedures_with_one_identifier_have_two_plans_that_leave_each_other_alone(self):
        """A Procedure that was charted anew for another patient, with the number of the first one, before that was taken back."""
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            procedure = next(s.resource for s in clara() if s.resource["resourceType"] == "Procedure")
            procedure = json.loads(json.dumps(procedure).replace("clara", "dora"))
            procedure["identifier"] = next(s.resource for s in clara() if s.resource["resourceType"] == "Procedure")["identifier"]
            put(self.base, self.dora())
            put(self.base, procedure)
            quiet(daemon, self.base)
            daemon.move_clock(clara()[-5].at + datetime.timedelta(minutes=1))
            status = quiet(daemon, self.base)
            self.check_one_plan("clara")
            self.check_one_plan("dora")
            self.assertTrue(any("identifier of another" in a for a in status["alarms"]), status["alarms"])
            daemon.move_clock(clara()[-5].at + datetime.timedelta(hours=2))
            before = quiet(daemon, self.base)["writes"]["queued"]
            request("POST", f"{daemon.admin}/look-again")
            self.assertEqual(quiet(daemon, self.base)["writes"]["queued"], before, "writes that call for writes")

    def test_a_record_that_overlooks_versions_is_not_written_to(self):
        request("POST", f"{self.base}/$peer/personality", {"name": "ignores-if-match", "options": {"everywhere": True}})
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            for step in clara()[:-4]:
                daemon.move_clock(step.at)
                put(self.base, step.resource)
            request("POST", f"{self.base}/$peer/settle")
            status = daemon.settle()
            self.assertTrue(any("If-Match" in a for a in status["alarms"]), status["alarms"])
            self.assertEqual(self.of("Task"), [])

    def test_a_plan_that_a_person_has_revoked_stays_so(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            plan = [p for p in self.of("CarePlan") if p["status"] == "active"][0]
            plan.update(status="revoked", note=[{"text": "stopped by the ward (invented)"}])
            put(self.base, plan)
            self.play(daemon, clara()[-4:])
            status = quiet(daemon, self.base)
            stands = get(self.base, f"CarePlan/{plan['id']}")
            self.assertEqual((stands["status"], stands["note"][0]["text"]), ("revoked", "stopped by the ward (invented)"))
            self.assertTrue(any("revoked by somebody" in a for a in status["alarms"]), status["alarms"])

    def test_a_clerk_may_edit_the_document(self):
        with self.daemon() as daemon:
            subscribe(daemon, self.base)  # of documents we are told nothing
            self.play(daemon, clara()[:-4])
            document = [d for d in self.of("DocumentReference") if d["status"] == "current"][0]
            document["description"] = "filed under recovery bay (invented)"
            put(self.base, document)
            self.play(daemon, clara()[-4:])
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.check_one_plan("clara")
            filed = get(self.base, f"DocumentReference/{document['id']}")
            self.assertEqual((filed["status"], filed["description"]), ("superseded", "filed under recovery bay (invented)"))


if __name__ == "__main__":
    unittest.main(verbosity=2)
