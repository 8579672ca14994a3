"""The life of a Task by the book, against a real third-party FHIR server: the patient moves, goes home, is merged; time goes on with nothing recorded."""
import datetime
import json
import pathlib
import tempfile
import unittest

from support import Daemon, clara, get, identity, peer, put, request, search

STAY = next(s.resource for s in clara() if s.resource["resourceType"] == "Encounter")


def step_of(task):
    return task["code"]["coding"][0]["code"]


def utc(at):
    return at.astimezone(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")


class Bedside(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.peer = peer("--strict")
        self.base = self.peer.__enter__()
        self.daemon = Daemon(self.place.name, record=self.base, look_seconds=0, extra='owner = "Organization/recovery"\nowner_name = "Recovery bay (invented)"').start()

    def tearDown(self):
        self.daemon.stop()
        self.peer.__exit__(None, None, None)
        self.place.cleanup()

    def look(self):
        status, answer = request("POST", f"{self.daemon.admin}/look-again")
        self.assertEqual(status, 200, answer)
        return answer

    def play(self, steps):
        for step in steps:
            self.daemon.move_clock(step.at)
            put(self.base, step.resource)
            self.look()
        self.daemon.let_settle()
        self.look()

    def tasks(self, *statuses):
        return [t for t in search(self.base, "Task") if identity(t) and step_of(t) != "abort" and t["status"] in statuses]

    def plan(self):
        return next(p for p in search(self.base, "CarePlan") if p["status"] == "active")

    def claim(self):
        task = self.tasks("requested")[0]
        status, taken = request("PUT", f"{self.base}/Task/{task['id']}", {**task, "status": "in-progress", "note": [{"text": "mine (invented)"}]}, {"If-Match": f'W/"{task["meta"]["versionId"]}"'})
        self.assertEqual(status, 200, taken)
        self.look()
        return taken


class Life(Bedside):
    def test_the_plan_is_valid_ahead_of_the_clock_while_the_daemon_runs_and_lapses_when_it_stops(self):
        self.play(clara())
        ends = []
        for _ in range(6):
            self.daemon.move_clock(self.daemon.now + datetime.timedelta(minutes=50))
            self.look()
            ends.append(self.plan()["period"]["end"])
            self.assertGreater(ends[-1], utc(self.daemon.now), "nothing was recorded, and the plan in the record is out of date")
        self.assertGreater(len(set(ends)), 2)
        self.daemon.stop()
        self.assertLess(ends[-1], utc(self.daemon.now + datetime.timedelta(hours=4)), "a ward that reads the plan later sees that nobody keeps it")
        self.assertIn("Valid until", self.plan()["description"])

    def test_the_last_task_of_the_window_says_that_none_follow(self):
        steps = clara()
        for n, step in enumerate(steps):
            self.daemon.move_clock(step.at)
            put(self.base, step.resource)
            self.look()
            said = [t for t in self.tasks("requested") if "No new tasks after" in t["description"]]
            timed = [t for t in self.tasks("requested") if step_of(t) not in ("provide-missing", "call-clinician", "print-sheet", "check-sheet")]
            if not timed:
                continue
            self.assertEqual(len(said), 1, f"after step {n}")
            self.assertEqual(said[0]["restriction"]["period"]["start"], max(t["restriction"]["period"]["start"] for t in timed))

    def test_another_encounter_is_followed_by_what_nobody_has_taken_on(self):
        self.play(clara()[:-4])
        taken = self.claim()
        now = self.daemon.now
        put(self.base, {**STAY, "status": "finished", "period": {**STAY["period"], "end": utc(now)}})
        put(self.base, {**STAY, "id": "clara-ward", "status": "in-progress", "period": {"start": utc(now)}, "location": [{"location": {"display": "Ward 4, bed 2 (invented)"}}]})
        self.daemon.move_clock(now + datetime.timedelta(minutes=5))
        self.look()
        self.look()
        self.assertEqual({t["encounter"]["reference"] for t in self.tasks("requested")}, {"Encounter/clara-ward"})
        self.assertEqual({t["location"]["display"] for t in self.tasks("requested")}, {"Ward 4, bed 2 (invented)"})
        self.assertEqual(self.plan()["encounter"]["reference"], "Encounter/clara-ward")
        self.assertEqual(get(self.base, f"Task/{taken['id']}")["meta"]["versionId"], taken["meta"]["versionId"], "written over")

    def closed(self, taken):
        self.assertEqual([step_of(t) for t in self.tasks("requested", "ready")], [])
        for task in self.tasks("cancelled"):
            self.assertTrue(task["statusReason"]["text"], task["id"])
        stands = get(self.base, f"Task/{taken['id']}")
        self.assertEqual((stands["status"], stands["meta"]["versionId"]), ("in-progress", taken["meta"]["versionId"]))
        asked = [t for t in search(self.base, "Task") if step_of(t) == "abort" and t["focus"]["reference"] == f"Task/{taken['id']}"]
        self.assertEqual(len(asked), 1, "whoever holds it is asked to stop")

    def test_after_discharge_all_is_closed_and_who_holds_a_task_is_asked_to_stop(self):
        self.play(clara())
        for _ in range(6):
            self.daemon.move_clock(self.daemon.now + datetime.timedelta(hours=2))
            self.look()
        taken = self.claim()
        now = self.daemon.now
        put(self.base, {**STAY, "status": "finished", "period": {**STAY["period"], "end": utc(now)}, "hospitalization": {"dischargeDisposition": {"text": "Home (invented)"}}})
        self.daemon.move_clock(now + datetime.timedelta(minutes=5))
        self.look()
        self.look()
        self.closed(taken)
        self.assertEqual([p["status"] for p in search(self.base, "CarePlan")], ["completed"])

    def test_a_withdrawn_procedure_closes_all_and_voids_the_sheet(self):
        self.play(clara()[:-4])
        taken = self.claim()
        procedure = get(self.base, "Procedure/clara-case")
        put(self.base, {**procedure, "status": "entered-in-error"})
        self.look()
        self.look()
        self.closed(taken)
        self.assertEqual([p["status"] for p in search(self.base, "CarePlan")], ["revoked"])
        self.assertEqual([d["id"] for d in search(self.base, "DocumentReference") if d["status"] == "current"], [])

    def test_a_merge_opens_again_under_the_survivor_with_t0_kept(self):
        self.play(clara())
        text = request("GET", f"{self.daemon.admin}/explain?procedure=Procedure/clara-case")[1]
        walk = next(t for t in self.tasks("requested") if step_of(t) == "check-site")["restriction"]
        survivor = json.loads(json.dumps(get(self.base, "Patient/clara")).replace("clara", "dora"))
        survivor.pop("meta")
        put(self.base, {**survivor, "meta": {"security": get(self.base, "Patient/clara")["meta"]["security"]}})
        put(self.base, {**get(self.base, "Patient/clara"), "active": False, "link": [{"other": {"reference": "Patient/dora"}, "type": "replaced-by"}]})
        self.look()
        self.look()
        self.assertEqual({t["for"]["reference"] for t in self.tasks("requested")}, {"Patient/dora"})
        self.assertIn(walk, [t["restriction"] for t in self.tasks("requested")])
        self.assertIn("19:46", text)
        self.assertIn("19:46", request("GET", f"{self.daemon.admin}/explain?procedure=Procedure/clara-case")[1], "haemostasis as before")


class Moving(Bedside):
    """Who owns the Tasks of a patient who moves from one unit to another."""

    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.peer = peer("--strict")
        self.base = self.peer.__enter__()
        for kind, ident, more in (("Organization", "house", {"name": "House (invented)"}), ("Organization", "ward-4", {"name": "Ward 4 (invented)"}), ("Organization", "bay", {"name": "Bay (invented)"}),
                                  ("Location", "ward-4", {"name": "Ward 4 (invented)"}), ("Location", "ward-4-bed-2", {"name": "Bed 2 (invented)", "partOf": {"reference": "Location/ward-4"}})):
            put(self.base, {"resourceType": kind, "id": ident, **more})
        units = "".join(f'[[site.unit]]\nlocation = "Location/{place}"\nowner = "Organization/{owner}"\nowner_name = "{name} (invented)"\n'
                        for place, owner, name in (("recovery", "bay", "Bay"), ("ward-4", "ward-4", "Ward 4")))
        self.daemon = Daemon(self.place.name, record=self.base, look_seconds=0, extra='owner = "Organization/house"\nowner_name = "House (invented)"\n' + units).start()

    def owners(self):
        return {t["owner"]["reference"] for t in self.tasks("requested")}

    def move_to(self, place, minutes=5):
        stay = get(self.base, "Encounter/clara-stay")
        put(self.base, {**stay, "location": [{"location": {"reference": place, "display": f"{place} (invented)"}}]})
        self.daemon.move_clock(self.daemon.now + datetime.timedelta(minutes=minutes))
        self.look()
        self.look()

    def test_what_nobody_has_claimed_goes_to_the_unit_the_patient_is_moved_to_and_the_rest_is_told(self):
        self.play(clara()[:-4])
        self.assertEqual(self.owners(), {"Organization/bay"})
        before = {identity(t) for t in self.tasks("requested")}
        taken = self.claim()
        self.move_to("Location/ward-4-bed-2")
        self.assertEqual(self.owners(), {"Organization/ward-4"}, "the bed is part of the ward")
        self.assertEqual({t["owner"]["display"] for t in self.tasks("requested")}, {"Ward 4 (invented)"})
        self.assertTrue(before - {identity(taken)} <= {identity(t) for t in search(self.base, "Task")}, "moved, not made anew")
        stands = get(self.base, f"Task/{taken['id']}")
        self.assertEqual((stands["meta"]["versionId"], stands["owner"]["reference"]), (taken["meta"]["versionId"], "Organization/bay"), "claimed, and written over")
        self.assertEqual([t for t in search(self.base, "Task") if step_of(t) == "abort"], [], "nobody is asked to stop")
        said = "since before the patient moved: " + taken["code"]["text"]
        self.assertIn(said, self.plan()["description"])
        self.assertIn(said, self.plan()["text"]["div"])
        # A list of work by owner, as a ward makes it.
        self.assertEqual(len(search(self.base, "Task?owner=Organization/ward-4&status=requested")), len(self.tasks("requested")))
        self.assertEqual([t["id"] for t in search(self.base, "Task?owner=Organization/bay&status=requested,in-progress")], [taken["id"]])
        status, done = request("PUT", f"{self.base}/Task/{taken['id']}", {**stands, "status": "completed", "lastModified": utc(self.daemon.now)}, {"If-Match": f'W/"{stands["meta"]["versionId"]}"'})
        self.assertEqual(status, 200, done)
        self.look()
        self.assertNotIn("since before the patient moved", self.plan()["description"])

    def test_a_place_without_an_owner_is_the_houses_and_a_request_to_stop_goes_where_the_task_is(self):
        self.play(clara()[:-4])
        taken = self.claim()
        self.move_to("Location/annex")
        self.assertEqual(self.owners(), {"Organization/house"})
        put(self.base, {**get(self.base, "Procedure/clara-case"), "status": "entered-in-error"})
        self.look()
        self.look()
        asked = [t for t in search(self.base, "Task") if step_of(t) == "abort" and t["focus"]["reference"] == f"Task/{taken['id']}"]
        self.assertEqual([t["owner"]["reference"] for t in asked], ["Organization/bay"])

    def test_a_store_that_was_lost_knows_the_owners_again(self):
        self.play(clara()[:-4])
        self.move_to("Location/ward-4-bed-2")
        tasks = {t["id"]: t["meta"]["versionId"] for t in self.tasks("requested")}
        installation = next(tag["code"] for tag in self.plan()["meta"]["tag"] if tag["system"].endswith("/CodeSystem/writer"))
        now = self.daemon.now
        text = (pathlib.Path(self.place.name) / "aftersheath.toml").read_text()
        self.daemon.stop()
        for file in pathlib.Path(self.place.name).glob("aftersheath.db*"):
            file.unlink()
        (pathlib.Path(self.place.name) / "aftersheath.toml").write_text(text.replace('takes_over = ""', f'takes_over = "{installation}"'))
        self.daemon.clock_from = utc(now)
        self.daemon.start()
        for _ in range(3):
            self.look()
        self.assertLessEqual(set(tasks), {t["id"] for t in self.tasks("requested", "cancelled", "completed")})
        open_now = [identity(t) for t in self.tasks("requested")]
        self.assertEqual(len(open_now), len(set(open_now)))
        self.assertEqual([t for t in search(self.base, "Task") if step_of(t) == "abort"], [], "ours were taken for somebody's")


if __name__ == "__main__":
    unittest.main(verbosity=2)
