"""A record that takes no transactions: every change is written one step after the other, and nothing is doubled, lost or written over."""
import datetime
import json
import tempfile
import threading
import time
import unittest

from support import Daemon, WATCHED, clara, get, identity, peer, put, quiet, request, search, subscribe, validate


class SingleWrites(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.peer = peer("--strict")
        self.base = self.peer.__enter__()

    def tearDown(self):
        self.peer.__exit__(None, None, None)
        self.place.cleanup()

    def personality(self, name, **options):
        request("POST", f"{self.base}/$peer/personality", {"name": name, "options": options})

    def daemon(self, **more):
        return Daemon(self.place.name, record=self.base, extra="[limits]\nsettle_unknown_seconds = 1", **more)

    def play(self, daemon, steps, one_by_one=False):
        """One by one: the clock waits until everybody has heard of a step, so that two runs are alike."""
        for step in steps:
            daemon.move_clock(step.at)
            put(self.base, step.resource)
            if one_by_one:
                quiet(daemon, self.base)
        quiet(daemon, self.base)
        daemon.let_settle()
        return quiet(daemon, self.base)

    def check_record(self):
        plans = search(self.base, "CarePlan")
        self.assertEqual([p["status"] for p in plans], ["active"])
        self.assertEqual(len([d for d in search(self.base, "DocumentReference") if d["status"] == "current"]), 1)
        for kind in ("Task", "CarePlan", "DocumentReference", "GuidanceResponse"):
            found = search(self.base, kind)
            identities = [identity(r) for r in found]
            self.assertEqual(len(identities), len(set(identities)), f"{kind} written twice")
            self.assertNotRegex(json.dumps(found), r'"(reference|url)": "urn:uuid', f"{kind} names something that stands nowhere")
        open_tasks = {f"Task/{t['id']}" for t in search(self.base, "Task") if t["status"] in ("requested", "ready")}
        listed = {a["reference"]["reference"] for a in plans[0].get("activity", [])}
        self.assertLessEqual(open_tasks, listed, "a Task that the plan does not list")
        code, output = validate("--quiet", *self.files())
        self.assertEqual(code, 0, output[-3000:])

    def tasks(self):
        """Step, status and the minutes of the window of every Task."""
        periods = [(t, t.get("restriction", {}).get("period", {})) for t in search(self.base, "Task")]
        return sorted((t["code"]["coding"][0]["code"], t["status"], period.get("start", "")[:16], period.get("end", "")[:16]) for t, period in periods)

    def files(self):
        file = f"{self.place.name}/dump.ndjson"
        with open(file, "w", encoding="utf-8") as out:
            for kind in ("CarePlan", "Task", "DocumentReference", "Provenance", "GuidanceResponse"):
                for resource in search(self.base, kind):
                    out.write(json.dumps(resource) + "\n")
        return [file]

    def test_an_evening(self):
        self.personality("no-transactions")
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            status = self.play(daemon, clara(), one_by_one=True)
            self.assertEqual(status["alarms"], [])
            self.assertIn("single writes", status["record"]["writing"])
            self.check_record()
            by_steps = self.tasks()
        self.tearDown()
        self.setUp()
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            status = self.play(daemon, clara(), one_by_one=True)
            self.assertIn("fenced transactions", status["record"]["writing"])
            whole = self.tasks()
        self.assertEqual(by_steps, whole, "the same Tasks whichever way they were written")

    def test_a_record_that_overlooks_versions_inside_transactions_only(self):
        self.personality("ignores-if-match")
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            status = self.play(daemon, clara())
            self.assertIn("overlooks ifMatch", status["record"]["writing"])
            self.check_record()

    def test_lost_answers(self):
        for every in (2, 5):
            self.personality("no-transactions")
            self.personality("lost-response", every=every, what="write", path="/(Task|CarePlan|DocumentReference|Binary|Provenance|GuidanceResponse)", times=12)
            with self.daemon() as daemon:
                subscribe(daemon, self.base)
                self.play(daemon, clara())
                request("DELETE", f"{self.base}/$peer/personality/lost-response")
                self.play(daemon, clara()[-1:])
                self.check_record()
            self.tearDown()
            self.setUp()

    def test_pages_of_a_proxy(self):
        self.personality("no-transactions")
        self.personality("html-page", every=4, methods=["PUT", "POST"], path="/(Task|CarePlan|DocumentReference|Binary|GuidanceResponse)", times=6)
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara())
            request("DELETE", f"{self.base}/$peer/personality/html-page")
            self.play(daemon, clara()[-1:])
            self.check_record()

    def test_a_stop_in_the_middle(self):
        self.personality("no-transactions")
        self.personality("slow", ms=30, methods=["PUT", "POST"])
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            for number, step in enumerate(clara()):
                daemon.move_clock(step.at)
                put(self.base, step.resource)
                if number % 6 == 5:
                    daemon.kill()
                    daemon.start()
                    subscribe(daemon, self.base)
            quiet(daemon, self.base)
            daemon.let_settle()
            quiet(daemon, self.base)
            self.check_record()

    def test_a_task_that_a_nurse_has_taken_on_is_left_alone(self):
        self.personality("no-transactions")
        with self.daemon() as daemon:
            subscribe(daemon, self.base, [k for k in WATCHED if k != "Task"])  # we are not told
            self.play(daemon, clara()[:-4])
            claimed = []
            for task in [t for t in search(self.base, "Task") if t["status"] == "requested"]:
                task.update(status="in-progress", note=[{"text": "mine (invented)"}])
                claimed.append(put(self.base, task))
            self.assertTrue(claimed)
            self.play(daemon, clara()[-4:])
            for task in claimed:
                now = get(self.base, f"Task/{task['id']}")
                self.assertEqual(now["meta"]["versionId"], task["meta"]["versionId"], "written over")


    def test_a_task_that_is_claimed_while_its_change_is_still_being_written_stays_claimed(self):
        self.personality("no-transactions")
        self.personality("slow", ms=4000, path="Provenance", methods=["POST"])
        steps = clara()[:-4]
        with self.daemon() as daemon:
            subscribe(daemon, self.base, ["Task"])
            for step in steps:
                put(self.base, step.resource)
            threading.Thread(target=lambda: [daemon.move_clock(steps[-1].at), request("POST", f"{daemon.admin}/look-again")], daemon=True).start()
            for _ in range(400):  # as soon as it stands: the last step of the change is not done yet
                if found := [t for t in search(self.base, "Task") if t["status"] == "requested"]:
                    break
                time.sleep(0.05)
            taken = put(self.base, {**found[0], "status": "in-progress", "note": [{"text": "mine (invented)"}]})
            request("POST", f"{self.base}/$peer/settle")
            self.assertEqual(search(self.base, "Provenance"), [], "the change was done already: this test says nothing")
            request("DELETE", f"{self.base}/$peer/personality/slow")
            quiet(daemon, self.base)
            daemon.let_settle()
            for minutes in (50, 100, 150):
                daemon.move_clock(steps[-1].at + datetime.timedelta(minutes=minutes))
                status = quiet(daemon, self.base)
            self.assertEqual([a for a in status["alarms"] if "conflict" in a], [])
            self.assertEqual(get(self.base, f"Task/{taken['id']}")["meta"]["versionId"], taken["meta"]["versionId"], "written over")
            plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
            self.assertGreater(plan["period"]["end"], f"{(steps[-1].at + datetime.timedelta(minutes=150)).astimezone(datetime.timezone.utc):%Y-%m-%dT%H:%M:%SZ}", "the plan stands still")

    def test_a_plan_that_somebody_adds_to_while_its_change_is_still_being_written_is_written_on(self):
        self.personality("no-transactions")
        steps = clara()
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, steps[:-4])
            plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
            before = plan["meta"]["versionId"]
            self.personality("slow", ms=3000, path="Provenance", methods=["POST"])
            at = steps[-5].at + datetime.timedelta(minutes=50)
            threading.Thread(target=lambda: request("POST", f"{daemon.admin}/clock?to={at.astimezone(datetime.timezone.utc):%Y-%m-%dT%H:%M:%SZ}"), daemon=True).start()
            for _ in range(400):  # as soon as it stands: the last step of the change is not done yet
                plan = get(self.base, f"CarePlan/{plan['id']}")
                if plan["meta"]["versionId"] != before and plan["status"] == "active":
                    break
                time.sleep(0.02)
            self.assertNotEqual(plan["meta"]["versionId"], before)
            provenance = len(search(self.base, "Provenance"))
            plan.setdefault("extension", []).append({"url": "https://hospital.example/foreign", "valueDecimal": 1.5})
            put(self.base, plan)
            self.assertEqual(len(search(self.base, "Provenance")), provenance, "the change was done already: this test says nothing")
            time.sleep(0.5)  # it is pushed meanwhile
            request("DELETE", f"{self.base}/$peer/personality/slow")
            for minutes in (10, 60, 110):
                daemon.move_clock(at + datetime.timedelta(minutes=minutes))
                status = quiet(daemon, self.base)
            self.assertEqual([a for a in status["alarms"] if "conflict" in a or "CarePlan" in a], [])
            now = get(self.base, f"CarePlan/{plan['id']}")
            self.assertIn("https://hospital.example/foreign", [e["url"] for e in now["extension"]])
            self.assertNotEqual(now["text"]["div"], plan["text"]["div"], "the plan stands still")

    def test_a_plan_that_was_deleted_while_nobody_ran_is_made_anew(self):
        self.personality("no-transactions")
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
            daemon.kill()
            self.assertIn(request("DELETE", f"{self.base}/CarePlan/{plan['id']}")[0], (200, 204))
            daemon.start()
            subscribe(daemon, self.base)
            self.play(daemon, clara()[-4:])
            status = quiet(daemon, self.base)
            self.assertEqual(status["alarms"], [])
            self.assertEqual([p["status"] for p in search(self.base, "CarePlan")], ["active"])
            self.check_record()

    def test_the_try_whether_versions_count_writes_over_nobody(self):
        self.personality("ignores-if-match")
        with self.daemon() as daemon:
            told = [k for k in WATCHED if k != "CarePlan"]
            subscribe(daemon, self.base, told)
            self.play(daemon, clara()[:-4])
            daemon.kill()
            plan = next(p for p in search(self.base, "CarePlan") if p["status"] == "active")
            plan.setdefault("note", []).append({"text": "asked the family (invented)"})
            put(self.base, plan)
            daemon.start()
            subscribe(daemon, self.base, told)
            self.play(daemon, clara()[-4:])
            self.assertIn("overlooks ifMatch", quiet(daemon, self.base)["record"]["writing"])
            self.assertEqual([n["text"] for n in get(self.base, f"CarePlan/{plan['id']}")["note"]], ["asked the family (invented)"])

    def test_a_proxys_page_in_place_of_a_refusal_is_no_answer(self):
        self.personality("no-transactions")
        self.personality("html-page", every=1, methods=["PUT"], path="CarePlan/", times=1)  # the first PUT is the one that must be refused
        with self.daemon() as daemon:
            subscribe(daemon, self.base)
            self.play(daemon, clara()[:-4])
            status = quiet(daemon, self.base)
            self.assertIn("single writes", status["record"]["writing"])
            self.assertEqual([a for a in status["alarms"] if "overlooks" in a], [])
            self.check_record()


if __name__ == "__main__":
    unittest.main(verbosity=2)
