"""A large hospital record: no transactions, no conditions, no Task or CarePlan. The sheet goes there, the list of work is served here, and T0 comes back."""
import base64
import hashlib
import json
import pathlib
import tempfile
import unittest
import urllib.request

from roster_test import with_category
from support import ROOT, Daemon, clara, identity, peer, request, search, validate

TYPE = "https://hospital.example/document-type|nursing-plan|Nursing plan (invented)"
PATIENT = "Patient/clara"
DICOM = "http://dicom.nema.org/resources/ontology/DCM"  # 122033 "Hemostasis achieved": DICOM PS3.16, context group 3400 family


def as_flowsheet(resource):
    """The hands that came off are a row of the flowsheet in this record, and no Procedure."""
    if resource["resourceType"] != "Procedure" or "haemostasis-confirmed" not in json.dumps(resource["code"]):
        return resource
    return {"resourceType": "Observation", "id": resource["id"], "meta": resource.get("meta", {}), "status": "final", "subject": resource["subject"],
            "code": {"coding": [{"system": DICOM, "code": "122033"}], "text": "Hemostasis achieved"}, "partOf": resource["partOf"],
            "category": [{"coding": [{"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "procedure"}]}],
            "effectiveDateTime": resource.get("performedDateTime") or resource["performedPeriod"]["end"]}


def evening():
    return [(step.at, with_category(as_flowsheet(step.resource))) for step in clara()]


def settings(**documents):
    wanted = {"type": TYPE, "author": "Organization/hospital", "author_name": "The hospital (invented)", "encounter": "needed", "found_by": "patient", "conditions": "no", **documents}
    return 'owner = "Organization/recovery"\nowner_name = "Recovery bay (invented)"\n[documents]\n' + "\n".join(f'{k} = "{v}"' for k, v in wanted.items()) + '\n[roster]\nfile = "roster.txt"\n[limits]\nsettle_unknown_seconds = 1'


class Hospital(unittest.TestCase):
    PERSONALITY = {}

    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.peer = peer("--personality", "large-hospital=" + json.dumps(self.PERSONALITY))
        self.base = self.peer.__enter__()
        for kind, name in (("hospital", "The hospital (invented)"), ("recovery", "Recovery bay (invented)")):
            self.put({"resourceType": "Organization", "id": kind, "name": name})
        (pathlib.Path(self.place.name) / "roster.txt").write_text(PATIENT + "\n")

    def tearDown(self):
        self.peer.__exit__(None, None, None)
        self.place.cleanup()

    def daemon(self, public="127.0.0.1:0", **documents):
        return Daemon(self.place.name, record=self.base, look_seconds=0, record_more='writing = "documents"', extra=settings(**documents), public=public)

    def put(self, resource):
        status, answer = request("PUT", f"{self.base}/{resource['resourceType']}/{resource['id']}", resource)
        self.assertIn(status, (200, 201), answer)

    def look(self, daemon):
        status, answer = request("POST", f"{daemon.admin}/look-again")
        self.assertEqual(status, 200, answer)
        return answer

    def play(self, daemon, steps):
        for at, resource in steps:
            daemon.move_clock(at)
            self.put(resource)
            self.look(daemon)
        daemon.let_settle()
        return self.look(daemon)

    def dump(self, *kinds):
        lines = urllib.request.urlopen(f"{self.base}/$peer/dump").read().decode().splitlines()
        return [r for r in map(json.loads, lines) if r["resourceType"] in kinds]

    def served(self, daemon, query):
        return search(f"{daemon.public}/fhir", query)

    def steps_due(self, daemon, **more):
        query = "&".join(f"{k.replace('_', '-') if not k.startswith('_') else k}={v}" for k, v in {"owner": "Organization/recovery", "status": "requested", **more}.items())
        return [t["code"]["coding"][0]["code"] for t in self.served(daemon, f"Task?{query}&_sort=restriction-period")]

    def check(self, daemon, found_current=1):
        documents = self.dump("DocumentReference")
        self.assertEqual(len([d for d in documents if d["status"] == "current"]), found_current)
        for one in documents:
            self.assertEqual(one["type"]["coding"][0]["code"], "nursing-plan")
            self.assertEqual(one["author"], [{"reference": "Organization/hospital", "display": "The hospital (invented)"}])
            self.assertEqual(one["context"]["encounter"], [{"reference": "Encounter/clara-stay"}])
            attachment = one["content"][0]["attachment"]
            data = attachment.get("data") or next(b["data"] for b in self.dump("Binary") if attachment["url"] == f"Binary/{b['id']}")
            content = base64.b64decode(data)
            self.assertEqual(attachment["hash"], base64.b64encode(hashlib.sha1(content).digest()).decode())
            self.assertEqual(attachment["size"], len(content))
        self.assertEqual(self.dump("Task", "CarePlan", "GuidanceResponse", "Provenance"), [])
        plans = self.served(daemon, "CarePlan")
        self.assertEqual([p["status"] for p in plans], ["active"])
        tasks = self.served(daemon, "Task")
        for kind in (documents, tasks, self.dump("Communication")):
            self.assertEqual(len(kind), len({identity(r) for r in kind}), "written twice")
        listed = {a["reference"]["reference"] for a in plans[0]["activity"]}
        self.assertLessEqual({f"Task/{t['id']}" for t in tasks if t["status"] == "requested" and "abort" not in json.dumps(t["code"])}, listed)
        self.validate(documents + self.dump("Binary", "Communication") + tasks + plans + self.served(daemon, "GuidanceResponse") + self.served(daemon, "Provenance"))

    def validate(self, resources):
        file = pathlib.Path(self.place.name) / "written.ndjson"
        file.write_text("".join(json.dumps(r) + "\n" for r in resources))
        code, output = validate("--quiet", file)
        self.assertEqual(code, 0, output[-3000:])

    def refused_writes(self):
        log = request("GET", f"{self.base}/$peer/log?kind=request")[1]
        return [(e["method"], e["url"], e["status"]) for e in (log if isinstance(log, list) else log["log"]) if e["method"] != "GET" and e["status"] >= 400]


class AnEvening(Hospital):
    def test_the_list_of_work_shows_the_next_act_the_sheet_is_in_the_record_and_t0_comes_as_a_flowsheet_row(self):
        steps = evening()
        t0 = next(n for n, (_, r) in enumerate(steps) if "122033" in json.dumps(r.get("code", {})))
        with self.daemon() as daemon:
            status = self.play(daemon, steps[:t0])
            self.assertEqual(status["alarms"], [], status["alarms"])
            self.assertIn("served here on /fhir", status["record"]["writing"])
            before = self.steps_due(daemon, patient="clara")
            self.assertTrue({"firm-compression", "end-compression", "reduce-pressure"} & set(before), before)
            self.assertNotIn("stand-and-walk", before)
            status = self.play(daemon, steps[t0:])
            self.assertEqual(status["alarms"], [])
            self.assertIn("check-site", self.steps_due(daemon, patient=PATIENT))
            daemon.move_clock(daemon.now.replace(hour=20, minute=30))
            self.look(daemon)
            self.assertTrue({"raise-head", "sit-up", "stand-and-walk"} & set(self.steps_due(daemon, encounter="Encounter/clara-stay")))
            text = request("GET", f"{daemon.admin}/explain?procedure=Procedure/clara-case")[1]
            self.assertIn("19:46", text)
            daemon.let_settle()
            self.look(daemon)
            self.check(daemon)
            told = json.dumps([c["about"] for c in self.dump("Communication")])
            current = next(d for d in self.dump("DocumentReference") if d["status"] == "current")
            self.assertIn(identity(current), told, "no word of the sheet that counts")
            self.assertEqual(self.refused_writes(), [])

    def test_a_page_for_a_record_that_takes_no_pdf_and_one_inside_the_document(self):
        for attachment, kind in (("xhtml", "application/xhtml+xml"), ("inline", "application/pdf")):
            with self.daemon(attachment=attachment) as daemon:
                self.play(daemon, evening())
                self.check(daemon)
                self.assertEqual({d["content"][0]["attachment"]["contentType"] for d in self.dump("DocumentReference")}, {kind})
                self.assertEqual(self.dump("Binary"), [])
            self.tearDown()
            self.setUp()


class ANurse(Hospital):
    def task(self, daemon, step="check-site"):
        return next(t for t in self.served(daemon, f"Task?code=https://aftersheath.example/fhir/CodeSystem/aftercare-step%7C{step}&status=requested"))

    def change(self, daemon, task, if_match=None, **more):
        headers = {"If-Match": if_match} if if_match else {}
        return request("PUT", f"{daemon.public}/fhir/Task/{task['id']}", {**task, **more}, headers)

    def test_takes_a_task_on_under_its_version_and_nobody_writes_over_it(self):
        with self.daemon() as daemon:
            self.play(daemon, evening()[:-6])
            task = self.task(daemon)
            etag = f'W/"{task["meta"]["versionId"]}"'
            self.assertEqual(self.change(daemon, task, status="in-progress")[0], 428)
            self.assertEqual(self.change(daemon, task, 'W/"99"', status="in-progress")[0], 412)
            self.assertEqual(self.change(daemon, {**task, "for": {"reference": "Patient/anna"}}, etag)[0], 422)
            self.assertEqual(self.change(daemon, task, etag, status="finished")[0], 422)
            status, taken = self.change(daemon, task, etag, status="in-progress", note=[{"text": "mine (invented)"}])
            self.assertEqual(status, 200, taken)
            self.assertEqual(self.change(daemon, task, etag, status="in-progress")[0], 412, "the second nurse loses")
            self.play(daemon, evening()[-6:])
            now = request("GET", f"{daemon.public}/fhir/Task/{task['id']}")[1]
            self.assertEqual((now["status"], now["note"], now["meta"]["versionId"]), ("in-progress", [{"text": "mine (invented)"}], taken["meta"]["versionId"]))
            copy = {**now, "status": "cancelled", "meta": {**now["meta"], "versionId": "77"}}
            request("POST", f"{daemon.public}/fhir", {"resourceType": "Bundle", "type": "collection", "entry": [{"resource": copy}]})
            self.look(daemon)
            self.assertEqual(request("GET", f"{daemon.public}/fhir/Task/{task['id']}")[1], now, "a copy that somebody sends on is no change")
            self.check(daemon)

    def test_completes_a_check_and_what_she_wrote_is_a_fact(self):
        steps = [s for s in evening() if not s[1]["id"].startswith("clara-check") or s[0].hour < 19]
        with self.daemon() as daemon:
            self.play(daemon, steps)
            task = self.task(daemon, "check-site")
            finding = "https://aftersheath.example/fhir/CodeSystem/check-finding"

            def output(code, **value):
                return {"type": {"coding": [{"system": finding, "code": code}]}, **value}

            def coded(code):
                return {"valueCodeableConcept": {"coding": [{"system": finding, "code": code}]}}
            ended = daemon.now.strftime("%Y-%m-%dT%H:%M:%S+00:00")
            status, _ = self.change(daemon, task, f'W/"{task["meta"]["versionId"]}"', status="completed", executionPeriod={"end": ended}, output=[
                output("bleeding", **coded("none")), output("swelling", valueQuantity={"value": 0, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"}),
                output("growth", valueBoolean=False), output("foot-pulse", **coded("as-baseline"))])
            self.assertEqual(status, 200)
            self.look(daemon)
            daemon.let_settle()
            self.look(daemon)
            text = request("GET", f"{daemon.admin}/explain?procedure=Procedure/clara-case")[1]
            self.assertIn(f"Task/{task['id']}", text + json.dumps(self.served(daemon, "Provenance")))
            events = daemon.status()["events"]
            self.assertEqual((events["pending"], events["dead"]), (0, 0))

    def test_asks_as_work_lists_ask(self):
        with self.daemon() as daemon:
            self.play(daemon, evening()[:-3])
            all_of_them = self.served(daemon, "Task")
            self.assertTrue(len(all_of_them) > 3)
            ids = lambda found: sorted(t["id"] for t in found)
            one = all_of_them[0]
            group = one["groupIdentifier"]
            for query in ("patient=Patient/clara", "patient=clara", "subject=Patient/clara", "encounter=clara-stay", "owner=Organization/recovery", "intent=proposal",
                          f"group-identifier={group.get('system', '')}%7C{group['value']}", "_lastUpdated=ge2026-03-02", "_lastUpdated=gt2026-03-01T23:59:59Z",
                          "status=requested,cancelled,completed,in-progress,rejected", "identifier=https://aftersheath.example/fhir/NamingSystem/item%7C", "owner:missing=false"):
                self.assertEqual(ids(self.served(daemon, f"Task?{query}")), ids(all_of_them), query)
            for query in ("patient=anna", "owner=Organization/other", "encounter=Encounter/none", "_lastUpdated=lt2026-03-02", "status:not=requested,cancelled,completed,in-progress,rejected"):
                self.assertEqual(self.served(daemon, f"Task?{query}"), [], query)
            self.assertEqual(ids(self.served(daemon, f"Task?identifier={identity(one)}")), [one["id"]])
            performer = one.get("performerType")
            if performer:
                coding = performer[0]["coding"][0]
                self.assertIn(one["id"], ids(self.served(daemon, f"Task?performer={coding['system']}%7C{coding['code']}")))
            status, page = request("GET", f"{daemon.public}/fhir/Task?_count=2&_sort=-restriction-period&patient=clara")
            self.assertEqual((status, len(page["entry"]), page["total"]), (200, 2, len(all_of_them)))
            paged = self.served(daemon, "Task?_count=2&_sort=-restriction-period&patient=clara")
            self.assertEqual(ids(paged), ids(all_of_them))
            starts = [t.get("restriction", {}).get("period", {}).get("start", "") for t in paged]
            self.assertEqual(starts, sorted(starts, reverse=True))
            self.assertEqual(request("GET", f"{daemon.public}/fhir/Task?_count=0")[1]["total"], len(all_of_them))
            status, form = request("POST", f"{daemon.public}/fhir/Task/_search", b"patient=clara&status=requested", {"Content-Type": "application/x-www-form-urlencoded"})
            self.assertEqual((status, form["total"]), (200, len(self.served(daemon, "Task?patient=clara&status=requested"))))
            for wrong in ("Task?colour=red", "Task?_sort=owner", "Task?_lastUpdated=yesterday", "Task?status:near=requested"):
                status, outcome = request("GET", f"{daemon.public}/fhir/{wrong}")
                self.assertEqual((status, outcome["resourceType"]), (400, "OperationOutcome"), wrong)
            status, statement = request("GET", f"{daemon.public}/fhir/metadata")
            task = next(r for r in statement["rest"][0]["resource"] if r["type"] == "Task")
            self.assertIn("restriction-period", [p["name"] for p in task["searchParam"]])
            published = json.loads((ROOT / "profiles/fhir/CapabilityStatement-server.json").read_text())["rest"][0]
            self.assertEqual([{k: v for k, v in r.items() if k != "supportedProfile"} for r in published["resource"]], statement["rest"][0]["resource"])
            self.assertEqual({k: v for k, v in published.items() if k != "resource"}, {k: v for k, v in statement["rest"][0].items() if k != "resource"})
            parameter = request("GET", f"{daemon.public}/fhir/SearchParameter/task-restriction-period")[1]
            self.validate([statement, parameter, page])

    def test_and_nobody_without_the_secret(self):
        (pathlib.Path(self.place.name) / "secret").write_text("a-secret-of-some-length-for-tests-0123456789\n")
        with self.daemon(public='127.0.0.1:0"\nsecret_file = "secret') as daemon:
            self.play(daemon, evening()[:3])
            self.assertEqual(request("GET", f"{daemon.public}/fhir/Task")[0], 401)
            self.assertEqual(request("PUT", f"{daemon.public}/fhir/Task/x", {"resourceType": "Task"})[0], 401)
            status, found = request("GET", f"{daemon.public}/fhir/Task", headers={"X-Sender-Key": "a-secret-of-some-length-for-tests-0123456789"})
            self.assertEqual((status, found["type"]), (200, "searchset"))


class ARecordThatTakesNoChangeOfADocument(Hospital):
    PERSONALITY = {"documentUpdates": False, "communication": False}

    def test_gets_each_sheet_as_the_one_that_replaces_the_last(self):
        with self.daemon(updates="no", communication="no") as daemon:
            status = self.play(daemon, evening())
            self.assertEqual(status["alarms"], [])
            documents = sorted(self.dump("DocumentReference"), key=lambda d: int(d["id"]) if d["id"].isdigit() else d["date"])
            replaced = [d["relatesTo"][0]["target"]["reference"] for d in documents if "relatesTo" in d]
            self.assertEqual(len(set(replaced)), len(documents) - 1)
            self.check(daemon, found_current=len(documents))
            self.assertIn("stays current there", status["record"]["writing"])


class TwoInstallations(Hospital):
    def test_write_for_one_case_and_the_second_stops_with_an_alarm(self):
        with self.daemon() as first, tempfile.TemporaryDirectory() as elsewhere:
            self.play(first, evening()[:6])
            documents = self.dump("DocumentReference", "Communication", "Binary")
            self.assertTrue(documents)
            (pathlib.Path(elsewhere) / "roster.txt").write_text(PATIENT + "\n")
            with Daemon(elsewhere, record=self.base, look_seconds=0, record_more='writing = "documents"', extra=settings()) as second:
                second.move_clock(first.now)
                self.look(second)
                second.let_settle()
                status = self.look(second)
                self.assertIn(f"carries the tag of installation {first.status()['program']['installation']}", " ".join(status["alarms"]))
                self.assertEqual(self.dump("DocumentReference", "Communication", "Binary"), documents, "nothing was written by the second")


class AnswersThatAreLost(Hospital):
    def test_no_document_and_no_message_is_written_twice(self):
        for every in (2, 3):
            request("POST", f"{self.base}/$peer/personality", {"name": "lost-response", "options": {"every": every, "what": "write", "path": "(DocumentReference|Communication|Binary)", "times": 8, "methods": ["POST", "PUT"]}})
            with self.daemon() as daemon:
                self.play(daemon, evening())
                request("DELETE", f"{self.base}/$peer/personality/lost-response")
                for _ in range(40):
                    if self.look(daemon)["writes"]["pending"] == 0:
                        break
                    __import__("time").sleep(0.3)
                self.check(daemon)
            self.tearDown()
            self.setUp()

    def test_a_stop_in_the_middle(self):
        with self.daemon() as daemon:
            for number, (at, resource) in enumerate(evening()):
                daemon.move_clock(at)
                self.put(resource)
                request("POST", f"{daemon.admin}/look-again")
                if number % 6 == 5:
                    daemon.kill()
                    daemon.start()
            daemon.let_settle()
            self.look(daemon)
            self.check(daemon)


if __name__ == "__main__":
    unittest.main(verbosity=2)
