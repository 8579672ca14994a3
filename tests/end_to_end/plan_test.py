"""`plan` on files: which of several versions counts, and what it says of a Procedure that makes no case. Invented patient."""
import copy
import json
import pathlib
import subprocess
import tempfile
import unittest

from support import PROGRAM

from scenario import BASE, Day, Patient, arrival, out_and_dry, watch

DAY = Day("2026-03-16", 1)


def told():
    p = Patient(DAY, "paul", "Erfunden", "Paul", "1961-05-09", "male")
    procedure = p.procedure("09:00", "09:40", "right", 6, ("33367005", "Coronary angiography"))
    rows = [*arrival(p, procedure, "09:50"), ("09:51", "", [p.statement("no-anticoagulant-given", "09:51"), p.statement("no-home-anticoagulant", "09:52")]),
            ("10:55", "", watch(p, "10:55", 126, 70, 66)), *out_and_dry(p, "11:00", "11:25")]
    return [resource for _, _, said in rows for resource in said]


def version(resource, number, updated):
    changed = copy.deepcopy(resource)
    changed.setdefault("meta", {}).update({"versionId": number, "lastUpdated": updated})
    return changed


class Plan(unittest.TestCase):
    def plan(self, *files, code=None):
        with tempfile.TemporaryDirectory() as place:
            paths = []
            for n, resources in enumerate(files):
                paths.append(pathlib.Path(place, f"{n}.ndjson"))
                paths[-1].write_text("\n".join(json.dumps(one) for one in resources))
            run = subprocess.run([PROGRAM, "plan", "--as-of", "2026-03-16T10:45:00Z", "--out", place, *map(str, paths)], capture_output=True, text=True, timeout=120)
            if code is not None:
                self.assertEqual(run.returncode, code, run.stderr + run.stdout)
            return json.loads(pathlib.Path(place, "timeline.json").read_text()), run

    def haemostasis(self, resources):
        return next(r for r in resources if r["resourceType"] == "Procedure" and "haemostasis-confirmed" in json.dumps(r))

    def test_the_newer_version_counts_wherever_it_stands(self):
        resources = told()
        old = self.haemostasis(resources)
        others = [r for r in resources if r is not old]
        first = version(old, "1", "2026-03-16T10:26:00Z")
        second = version(old, "2", "2026-03-16T10:31:00Z")
        second["performedDateTime"] = DAY.text("11:30")
        for files in [others + [first, second]], [others + [second, first]], [others, [second], [first]], [[first], others, [second]]:
            timeline, run = self.plan(*files)
            self.assertEqual(timeline["cases"][0]["sites"][0]["t0"], "2026-03-16T10:30:00Z")
        timeline, run = self.plan(others + [second, first])
        self.assertIn("version 1 is left out", run.stderr)
        self.assertTrue(any(issue["code"] == "older-version" for issue in timeline["issues"]), timeline["issues"])

    def test_without_numbers_the_time_tells(self):
        resources = told()
        old = self.haemostasis(resources)
        others = [r for r in resources if r is not old]
        first, second = copy.deepcopy(old), copy.deepcopy(old)
        first["meta"] = {**first.get("meta", {}), "lastUpdated": "2026-03-16T10:26:00Z"}
        second["meta"] = {**second.get("meta", {}), "lastUpdated": "2026-03-16T10:31:00Z"}
        second["performedDateTime"] = DAY.text("11:30")
        timeline, _ = self.plan(others + [second, first])
        self.assertEqual(timeline["cases"][0]["sites"][0]["t0"], "2026-03-16T10:30:00Z")

    def test_entered_in_error_comes_back_only_by_what_is_newer(self):
        resources = told()
        old = self.haemostasis(resources)
        others = [r for r in resources if r is not old]
        wrong = version(old, "2", "2026-03-16T10:31:00Z")
        wrong["status"] = "entered-in-error"
        timeline, _ = self.plan(others + [wrong, version(old, "1", "2026-03-16T10:26:00Z")])
        self.assertIsNone(timeline["cases"][0]["sites"][0]["t0"])
        timeline, _ = self.plan(others + [wrong, version(old, "3", "2026-03-16T10:35:00Z")])
        self.assertEqual(timeline["cases"][0]["sites"][0]["t0"], "2026-03-16T10:25:00Z")

    def left_out(self, change, code):
        resources = told()
        procedure = next(r for r in resources if r["resourceType"] == "Procedure" and r.get("bodySite"))
        change(procedure)
        kept = [r for r in resources if r is procedure or r["resourceType"] != "Procedure"]
        timeline, run = self.plan(kept, code=code)
        self.assertEqual(timeline["cases"], [])
        issue = next(one for one in timeline["issues"] if one["code"] == "procedure-without-case")
        self.assertIn(f"Procedure/{procedure['id']}", run.stderr)
        return run.stderr + issue["text"] if "text" in issue else run.stderr

    def test_a_procedure_without_a_place_is_named_and_asked_for(self):
        def nowhere(procedure):
            del procedure["bodySite"]
            procedure.pop("extension", None)
        self.assertIn("does not say where the catheter went in", self.left_out(nowhere, 3))

    def test_one_that_is_no_case_is_named_and_asks_for_nothing(self):
        self.assertIn("recorded as not done", self.left_out(lambda p: p.update(status="not-done"), 0))
        denied = {"url": f"{BASE}/StructureDefinition/femoral-access", "valueBoolean": False}
        self.assertIn("not through the groin", self.left_out(lambda p: p.setdefault("extension", []).append(denied), 0))


if __name__ == "__main__":
    unittest.main(verbosity=2)
