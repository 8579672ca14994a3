"""What is written and how much of it: no flood of Tasks, labels carried forward, R5, a record that takes Tasks and no CarePlan or the other way, files
whose answer was lost, and how long what is served here stays. Invented patients; against a real third-party FHIR server."""
import collections
import datetime
import json
import pathlib
import re
import tempfile
import unittest
import urllib.request

from support import Daemon, clara, get, identity, peer, put, quiet, request, search, validate

CONFIDENTIALITY = "http://terminology.hl7.org/CodeSystem/v3-Confidentiality"
FINDING = "https://aftersheath.example/fhir/CodeSystem/check-finding"
WRITER = "https://aftersheath.example/fhir/CodeSystem/writer"


def step_of(task):
    return task["code"]["coding"][0]["code"]


def is_ours(resource):
    return any(tag["system"] == WRITER for tag in resource.get("meta", {}).get("tag", []))


class Writing(unittest.TestCase):
    PEER = ("--strict",)

    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.peer = peer(*self.PEER)
        self.base = self.peer.__enter__()

    def tearDown(self):
        self.peer.__exit__(None, None, None)
        self.place.cleanup()

    def daemon(self, **more):
        return Daemon(self.place.name, record=self.base, look_seconds=0, **more)

    def look(self, daemon):
        status, answer = request("POST", f"{daemon.admin}/look-again")
        self.assertEqual(status, 200, answer)
        return answer

    def play(self, daemon, steps):
        for step in steps:
            daemon.move_clock(step.at)
            put(self.base, step.resource)
            self.look(daemon)
        daemon.let_settle()
        return self.look(daemon)

    def dump(self, history=False):
        return [json.loads(line) for line in urllib.request.urlopen(f"{self.base}/$peer/dump{'?history=1' if history else ''}").read().decode().splitlines()]

    def valid(self, resources, **more):
        file = pathlib.Path(self.place.name) / "written.ndjson"
        file.write_text("".join(json.dumps(r) + "\n" for r in resources))
        code, output = validate("--quiet", file, **more)
        self.assertEqual(code, 0, output[-3000:])


class NoFlood(Writing):
    def test_routine_tasks_over_the_limit_wait_and_urgent_ones_do_not(self):
        steps = clara()
        with self.daemon(extra="[limits]\ntasks_per_patient_hour = 6") as daemon:
            most = waited = 0
            for step in steps:
                daemon.move_clock(step.at)
                put(self.base, step.resource)
                status = self.look(daemon)
                tasks = [t for t in search(self.base, "Task") if identity(t) and step_of(t) != "abort"]
                routine = [t for t in tasks if t["priority"] == "routine" and step_of(t) not in ("provide-missing", "call-clinician")]
                hour = (step.at - datetime.timedelta(hours=1)).astimezone(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
                # Urgent ones count, and are given all the same: a routine one is given only while there is room.
                most = max(most, len([t for t in routine if t["authoredOn"] > hour]))
                if not status["tasksWaiting"]:
                    continue
                waited = max(waited, status["tasksWaiting"])
                self.assertTrue(any("tasks_per_patient_hour" in alarm for alarm in status["alarms"]), status["alarms"])
                plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
                self.assertIn("More tasks follow, the next for", plan["description"])
                self.assertIn("More tasks follow, the next for", plan["text"]["div"])
            self.assertLessEqual(most, 6)
            self.assertGreater(waited, 0, "the limit was never met: this test says nothing")
            metrics = urllib.request.urlopen(f"{daemon.admin}/metrics").read().decode()
            self.assertRegex(metrics, r"(?m)^aftersheath_tasks_waiting \d+$")
            # Nothing is lost: when the hour is over they come, and the plan no longer speaks of it.
            for _ in range(20):
                daemon.move_clock(daemon.now + datetime.timedelta(minutes=31))
                status = self.look(daemon)
                if not status["tasksWaiting"] and search(self.base, "Task?code=stand-and-walk"):
                    break
            self.assertEqual(status["tasksWaiting"], 0)
            self.assertFalse(any("tasks_per_patient_hour" in alarm for alarm in status["alarms"]))
            plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
            self.assertNotIn("More tasks follow", plan["description"])
            self.assertIn("stand-and-walk", {step_of(t) for t in search(self.base, "Task")})

    def test_the_last_task_given_names_those_that_wait_where_the_site_groups_them(self):
        with self.daemon(extra='tasks_over_limit = "group"\n[limits]\ntasks_per_patient_hour = 4') as daemon:
            self.play(daemon, clara())
            told = [t["description"] for t in search(self.base, "Task") if "Without a task of their own for now:" in t["description"]]
            self.assertTrue(told)
            self.assertRegex(told[0], r"Without a task of their own for now: [a-z ]+, .*\d\d:\d\d")

    def test_no_shipped_story_comes_near_the_default_limit(self):
        from support import stories, story
        busiest = {}
        with tempfile.TemporaryDirectory() as place:
            for name in stories():
                steps = story(name)
                with Daemon(f"{place}/{name}", clock_from=steps[0].at.isoformat(), extra="[limits]\ntasks_per_patient_hour = 1000") as daemon:
                    for step in steps:
                        daemon.move_clock(step.at)
                        daemon.put(step.resource)
                        daemon.settle()
                    given = collections.defaultdict(dict)
                    for file in daemon.chart().rglob("transaction-*.json"):
                        for entry in json.loads(file.read_text())["entry"]:
                            task = entry["resource"]
                            if task["resourceType"] == "Task" and step_of(task) != "abort":
                                given[task["for"]["reference"]][task["id"]] = datetime.datetime.fromisoformat(task["authoredOn"].replace("Z", "+00:00"))
                    for times in given.values():
                        at = sorted(times.values())
                        busiest[name] = max(busiest.get(name, 0), *(sum(1 for other in at if begin <= other < begin + datetime.timedelta(hours=1)) for begin in at))
        print(f"Tasks for one patient in the busiest hour: {busiest}")
        self.assertLess(max(busiest.values()), 75, "limits.tasks_per_patient_hour is 100 by default, and a shipped story comes near")


class Labels(Writing):
    def test_the_highest_label_of_the_facts_stands_on_everything(self):
        steps = clara()
        half = len(steps) // 2
        with self.daemon() as daemon:
            self.play(daemon, steps[:half])
            labelled = lambda: {(r["resourceType"], label["code"]) for r in self.dump() if is_ours(r) for label in r["meta"].get("security", []) if label["system"] == CONFIDENTIALITY}
            self.assertEqual(labelled(), set())
            for step, code in ((steps[half], "R"), (steps[half + 1], "N")):
                step.resource.setdefault("meta", {}).setdefault("security", []).append({"system": CONFIDENTIALITY, "code": code})
            self.play(daemon, steps[half:])
            standing = [r for r in self.dump() if is_ours(r) and r.get("status") in ("active", "requested", "current", "success", "data-required")]
            self.assertLessEqual({"CarePlan", "Task", "GuidanceResponse", "DocumentReference"}, {r["resourceType"] for r in standing})
            for resource in standing:
                codes = [label["code"] for label in resource["meta"]["security"] if label["system"] == CONFIDENTIALITY]
                self.assertEqual(codes, ["R"], f"{resource['resourceType']}/{resource['id']}")
                if resource["resourceType"] == "DocumentReference":
                    self.assertIn("R", [c["coding"][0]["code"] for c in resource["securityLabel"]])
            newest = [r for r in self.dump() if r["resourceType"] in ("Provenance", "Binary")][-2:]
            self.assertTrue(all("R" in json.dumps(r["meta"]["security"]) for r in newest))
            self.valid([r for r in self.dump() if is_ours(r)])


class InR5(Writing):
    PEER = ()  # the peer keeps what it is given; the judge is the validator with the definitions of R5

    def setUp(self):
        super().setUp()
        request("POST", f"{self.base}/$peer/personality", {"name": "any-version"})

    def test_what_is_written_is_r5_and_r4_is_caught(self):
        with self.daemon(record_more='fhir = "R5"') as daemon:
            status = self.play(daemon, clara())
            self.assertEqual(status["alarms"], [])
            ours = [r for r in self.dump(history=True) if is_ours(r)]
            self.assertLessEqual({"CarePlan", "Task", "GuidanceResponse", "DocumentReference", "Provenance", "Binary"}, {r["resourceType"] for r in ours})
            self.valid(ours, r5=True)
            plan = next(r for r in self.dump() if r["resourceType"] == "CarePlan" and r["status"] == "active")
            named = [a["plannedActivityReference"]["reference"] for a in plan["activity"]]
            self.assertEqual(len(named), len(set(named)), "read back and written again, an activity stands once")
            task = next(r for r in self.dump() if r["resourceType"] == "Task" and r["status"] == "requested")
            self.assertEqual(task["reason"][-1]["reference"]["reference"], "Procedure/clara-case")
            self.assertEqual(task["requestedPeriod"], task["restriction"]["period"])
            for wrong in ({"reasonCode": {"text": "x"}}, {"performerType": [{"text": "x"}]}, {"statusReason": {"text": "x"}}):
                file = pathlib.Path(self.place.name) / "wrong.json"
                file.write_text(json.dumps({**task, **wrong}))
                self.assertEqual(validate("--quiet", file, r5=True)[0], 1, wrong)


    def apart(self, serve, refused):
        """What the record keeps is R5, what is served here R4, as its own statement says."""
        request("POST", f"{self.base}/$peer/personality", {"name": "refuses-create", "options": {"types": refused, "updates": True}})
        with self.daemon(record_more=f'fhir = "R5"\nserve = "{serve}"') as daemon:
            self.assertEqual(self.play(daemon, clara())["alarms"], [])
            there = [r for r in self.dump(history=True) if is_ours(r)]
            here = [r for kind in refused for r in search(f"{daemon.public}/fhir", kind)]
            self.assertTrue(there and here)
            self.assertEqual(get(f"{daemon.public}/fhir", "metadata")["fhirVersion"], "4.0.1")
            self.valid(there, r5=True)
            self.valid(here)
            for all_of in (self.dump(), here):
                identities = [identity(r) for r in all_of if is_ours(r) and identity(r)]
                self.assertEqual(len(identities), len(set(identities)))
            # Somebody's work on a Task is seen and kept in either form.
            where = f"{daemon.public}/fhir" if serve == "tasks" else self.base
            task = next(t for t in search(where, "Task?status=requested") if is_ours(t))
            taken = {**task, "status": "in-progress", "note": [{"text": "mine (invented)"}]}
            self.assertEqual(request("PUT", f"{where}/Task/{task['id']}", taken, {"If-Match": f'W/"{task["meta"]["versionId"]}"'})[0], 200)
            for _ in range(3):
                daemon.move_clock(daemon.now + datetime.timedelta(minutes=50))
                self.assertEqual([a for a in self.look(daemon)["alarms"] if "conflict" in a], [])
            self.assertEqual(get(where, f"Task/{task['id']}")["note"], [{"text": "mine (invented)"}])
            self.valid([r for r in self.dump() if is_ours(r)], r5=True)
            return {r["resourceType"] for r in there}, {r["resourceType"] for r in here}

    def test_tasks_in_r5_beside_care_plans_that_are_served(self):
        there, here = self.apart("care-plans", ["CarePlan", "GuidanceResponse", "Provenance"])
        self.assertLessEqual({"Task", "DocumentReference", "Binary"}, there)
        self.assertEqual(here, {"CarePlan", "GuidanceResponse", "Provenance"})

    def test_a_care_plan_in_r5_beside_tasks_that_are_served(self):
        there, here = self.apart("tasks", ["Task"])
        self.assertLessEqual({"CarePlan", "DocumentReference", "Binary", "GuidanceResponse", "Provenance"}, there)
        self.assertEqual(here, {"Task"})

    def test_documents_alone_in_r5_with_all_else_served(self):
        from documents_test import PATIENT, evening
        (pathlib.Path(self.place.name) / "roster.txt").write_text(PATIENT + "\n")
        request("POST", f"{self.base}/$peer/personality", {"name": "refuses-create", "options": {"types": ["Task", "CarePlan", "GuidanceResponse", "Provenance", "DetectedIssue"], "updates": True}})
        with self.daemon(record_more='fhir = "R5"\nwriting = "documents"', extra='[roster]\nfile = "roster.txt"\n[limits]\nsettle_unknown_seconds = 1') as daemon:
            for at, resource in evening():
                daemon.move_clock(at)
                put(self.base, resource)
            self.look(daemon)
            daemon.move_clock(evening()[-1][0] + datetime.timedelta(seconds=10))
            status = self.look(daemon)
            self.assertEqual(status["alarms"], [])
            there = [r for r in self.dump(history=True) if is_ours(r)]
            self.assertEqual({r["resourceType"] for r in there}, {"DocumentReference", "Binary", "Communication"})
            self.valid(there, r5=True)
            here = [r for kind in ("Task", "CarePlan", "GuidanceResponse", "Provenance") for r in search(f"{daemon.public}/fhir", kind)]
            self.assertLessEqual({"Task", "CarePlan", "GuidanceResponse"}, {r["resourceType"] for r in here})
            self.valid(here)


class APart(Writing):
    """A record that takes the one and not the other."""

    def records(self, types):
        request("POST", f"{self.base}/$peer/personality", {"name": "refuses-create", "options": {"types": types, "updates": True}})

    def check(self, daemon, in_record, served):
        there = [r for r in self.dump() if is_ours(r)]
        here = [r for kind in served for r in search(f"{daemon.public}/fhir", kind)]
        self.assertEqual({r["resourceType"] for r in there} & set(served), set())
        self.assertLessEqual(set(in_record), {r["resourceType"] for r in there})
        self.assertLessEqual(set(served), {r["resourceType"] for r in here})
        for all_of in (there, here):
            for kind in ("Task", "CarePlan", "DocumentReference", "GuidanceResponse"):
                identities = [identity(r) for r in all_of if r["resourceType"] == kind]
                self.assertEqual(len(identities), len(set(identities)), f"{kind} written twice")
        for resource in there:  # nothing in the record points to what is not there
            for kind in served:
                self.assertNotIn(f'"reference": "{kind}/', json.dumps(resource))
        self.valid(there + here)
        return there, here

    def test_tasks_go_to_the_record_and_the_care_plan_is_served(self):
        self.records(["CarePlan", "GuidanceResponse", "Provenance"])
        with self.daemon(record_more='serve = "care-plans"') as daemon:
            status = self.play(daemon, clara())
            self.assertEqual(status["alarms"], [])
            there, here = self.check(daemon, ("Task", "DocumentReference", "Binary"), ("CarePlan", "GuidanceResponse", "Provenance"))
            plan = next(r for r in here if r["resourceType"] == "CarePlan")
            self.assertEqual(plan["status"], "active")
            task = next(t for t in there if t["resourceType"] == "Task" and t["status"] == "requested")
            self.assertEqual(task["focus"]["identifier"]["value"], identity(plan))
            self.assertIn(f"Task/{task['id']}", [a["reference"]["reference"] for a in plan["activity"]])
            self.assertIn("CarePlans, answers and provenance are served here", status["record"]["writing"])
            taken = {**task, "status": "in-progress", "note": [{"text": "mine (invented)"}]}
            self.assertEqual(request("PUT", f"{self.base}/Task/{task['id']}", taken, {"If-Match": f'W/"{task["meta"]["versionId"]}"'})[0], 200)
            daemon.move_clock(daemon.now + datetime.timedelta(hours=2))
            self.assertEqual([a for a in self.look(daemon)["alarms"] if "conflict" in a], [])
            self.assertEqual(get(self.base, f"Task/{task['id']}")["note"], [{"text": "mine (invented)"}])

    def test_the_care_plan_goes_to_the_record_and_tasks_are_served(self):
        self.records(["Task"])
        with self.daemon(record_more='serve = "tasks"') as daemon:
            status = self.play(daemon, clara())
            self.assertEqual(status["alarms"], [])
            there, here = self.check(daemon, ("CarePlan", "DocumentReference", "Binary", "Provenance", "GuidanceResponse"), ("Task",))
            plan = next(r for r in there if r["resourceType"] == "CarePlan" and r["status"] == "active")
            named = {a["reference"]["identifier"]["value"] for a in plan["activity"]}
            self.assertEqual(len(named), len(plan["activity"]))
            self.assertLessEqual({identity(t) for t in here if t["status"] == "requested" and step_of(t) != "abort"}, named)
            self.assertIn("Tasks are served here on /fhir, the CarePlan is in the record", status["record"]["writing"])


class LostAnswers(Writing):
    MORE = {"extra": "[limits]\nsettle_unknown_seconds = 1\nlongest_backoff_seconds = 1"}

    def evening(self, lost):
        request("POST", f"{self.base}/$peer/personality", {"name": "no-transactions"})
        request("POST", f"{self.base}/$peer/personality", {"name": "lost-response", "options": {"every": 2, "what": "write", **lost}})
        with self.daemon(**self.MORE) as daemon:
            self.play(daemon, clara())
            for _ in range(60):
                if self.look(daemon)["writes"]["pending"] == 0:
                    break
                __import__("time").sleep(0.25)
            log = request("GET", f"{self.base}/$peer/log?kind=request")[1]
            self.assertTrue([e for e in (log if isinstance(log, list) else log["log"]) if e.get("cut")], "no answer was lost: this test says nothing")
        return self.dump()

    def test_a_file_whose_answer_was_lost_is_found_again_and_none_is_left_that_no_document_names(self):
        stands = self.evening({"path": "^/?Binary/", "methods": ["PUT"]})
        named = {d["content"][0]["attachment"]["url"].split("/")[-1] for d in stands if d["resourceType"] == "DocumentReference"}
        self.assertEqual({b["id"] for b in stands if b["resourceType"] == "Binary"}, named)

    def test_a_provenance_whose_answer_was_lost_is_found_again_by_its_tag(self):
        stands = self.evening({"path": "Provenance$", "methods": ["POST"]})
        marks = collections.Counter(tag["code"] for p in stands if p["resourceType"] == "Provenance" for tag in p["meta"]["tag"] if tag["system"].endswith("/item"))
        self.assertEqual([m for m, n in marks.items() if n > 1], [])

    def test_a_record_that_lets_no_client_name_what_it_makes_names_the_files_itself(self):
        stands = []
        request("POST", f"{self.base}/$peer/personality", {"name": "no-transactions"})
        with self.daemon(**self.MORE) as daemon:
            steps = clara()
            for step in steps[:3]:
                put(self.base, step.resource)  # the facts come first: they are put under their ids too
            for step in steps:
                request("DELETE", f"{self.base}/$peer/personality/no-client-ids")
                daemon.move_clock(step.at)
                put(self.base, step.resource)
                request("POST", f"{self.base}/$peer/personality", {"name": "no-client-ids"})
                self.look(daemon)
            daemon.let_settle()
            self.assertEqual(self.look(daemon)["alarms"], [])
            stands = self.dump()
        named = {d["content"][0]["attachment"]["url"].split("/")[-1] for d in stands if d["resourceType"] == "DocumentReference"}
        self.assertTrue(named)
        self.assertEqual({b["id"] for b in stands if b["resourceType"] == "Binary"}, named)


class Retention(Writing):
    PEER = ("--personality", "large-hospital")

    def test_what_is_served_here_is_closed_at_the_end_of_the_case_and_removed_after_the_days_that_were_chosen(self):
        from documents_test import PATIENT, evening, settings
        for kind in ("hospital", "recovery"):
            put(self.base, {"resourceType": "Organization", "id": kind, "name": f"{kind} (invented)"})
        (pathlib.Path(self.place.name) / "roster.txt").write_text(PATIENT + "\n")
        with self.daemon(record_more='writing = "documents"', extra=settings().replace("[limits]", "[limits]\nserved_days = 3")) as daemon:
            for at, resource in evening():
                daemon.move_clock(at)
                put(self.base, resource)
            self.look(daemon)
            self.assertTrue(search(f"{daemon.public}/fhir", "Task?status=requested"))
            for _ in range(13):  # past the end of the case, 48 h after haemostasis
                daemon.move_clock(daemon.now + datetime.timedelta(hours=4))
            self.look(daemon)
            served = search(f"{daemon.public}/fhir", "Task")
            self.assertTrue(served)
            self.assertEqual([t["id"] for t in served if t["status"] in ("requested", "ready")], [], "open after the end")
            self.assertEqual({p["status"] for p in search(f"{daemon.public}/fhir", "CarePlan")}, {"completed"})
            daemon.move_clock(daemon.now + datetime.timedelta(days=4))
            self.look(daemon)
            for kind in ("Task", "CarePlan", "GuidanceResponse", "Provenance"):
                self.assertEqual(search(f"{daemon.public}/fhir", kind), [], kind)
            status, outcome = request("GET", f"{daemon.public}/fhir/Task/{served[0]['id']}")
            self.assertEqual((status, outcome["resourceType"]), (410, "OperationOutcome"))


if __name__ == "__main__":
    unittest.main(verbosity=2)
