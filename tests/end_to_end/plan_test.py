"""`plan` on files: which of several versions counts, and what it says of a Procedure that makes no case. Invented patient."""
import copy
import json
import pathlib
import subprocess
import tempfile
import unittest

from support import PROGRAM, ROOT, validate

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

    # FHIR R4, references: an absolute URL is a reference like any other; files do not say whose address is meant.
    def test_a_patient_named_by_full_address_is_the_one_in_the_files(self):
        def addressed(*servers):
            resources = copy.deepcopy(told())
            for n, one in enumerate(r for r in resources if r["resourceType"] == "Procedure" and "haemostasis-confirmed" in json.dumps(r) or r["resourceType"] == "Observation"):
                one["subject"] = {"reference": f"{servers[n % len(servers)]}/Patient/paul"}
            return resources
        timeline, _ = self.plan(addressed("https://hospital.example/fhir"))
        self.assertEqual(timeline["cases"][0]["sites"][0]["t0"], "2026-03-16T10:25:00Z")
        timeline, _ = self.plan(addressed("https://hospital.example/fhir", "https://other.example/fhir"))
        self.assertTrue(any(issue["code"] == "other-server" for issue in timeline["issues"]), timeline["issues"])

    def test_a_procedure_without_a_place_is_named_and_asked_for(self):
        def nowhere(procedure):
            del procedure["bodySite"]
            procedure.pop("extension", None)
        self.assertIn("does not say where the catheter went in", self.left_out(nowhere, 3))

    def test_one_that_is_no_case_is_named_and_asks_for_nothing(self):
        self.assertIn("recorded as not done", self.left_out(lambda p: p.update(status="not-done"), 0))
        denied = {"url": f"{BASE}/StructureDefinition/femoral-access", "valueBoolean": False}
        self.assertIn("not through the groin", self.left_out(lambda p: p.setdefault("extension", []).append(denied), 0))


SYSTEM = f"{BASE}/CodeSystem/"
# A value for each output that may be recorded; of the codes one that their definition names. Invented.
RECORDED = {"time": {"valueDateTime": "2026-03-16T10:30:00Z"}, "note": {"valueString": "as it was (invented)"}, "pulses": {"valueString": "dorsalis pedis 2+ both (invented)"},
            "pulse-scale": {"valueString": "0 to 3"}, "pain": {"valueInteger": 2}, "value-seen": {"valueString": "ACT 148 s"},
            "access-site": {"valueCodeableConcept": {"coding": [{"system": "http://snomed.info/sct", "code": "69833005"}]}},
            "pressure": {"valueQuantity": {"value": 60, "unit": "mmHg", "system": "http://unitsofmeasure.org", "code": "mm[Hg]"}},
            "swelling": {"valueQuantity": {"value": 1.5, "unit": "cm", "system": "http://unitsofmeasure.org", "code": "cm"}},
            "bleeding": {"valueCodeableConcept": {"coding": [{"system": SYSTEM + "check-finding", "code": "none"}]}},
            "gate": {"valueCodeableConcept": {"coding": [{"system": SYSTEM + "gate", "code": "act"}]}},
            **{code: {"valueCodeableConcept": {"coding": [{"system": SYSTEM + "check-finding", "code": "as-baseline"}]}} for code in ("foot-pulse", "colour", "warmth", "feeling", "movement")},
            **{code: {"valueBoolean": False} for code in ("growth", "back-pain", "wet-dressing", "skin-damage", "mass-or-bruit", "voided", "dizziness")}}


class Outputs(Plan):
    """Every output that a step may record, as the published protocol lists them, on a completed Task of that step: it is valid, and it is read."""

    def steps(self):
        plan = json.loads((ROOT / "profiles/fhir/PlanDefinition-cautious.json").read_text())
        return {action["id"]: [(c["system"], c["code"]) for c in action["output"][0]["codeFilter"][0]["code"]] for action in plan["action"]}

    def task(self, step, outputs, **more):
        return {"resourceType": "Task", "id": f"done-{step}", "meta": {"versionId": "1"}, "status": "completed", "intent": "order", "for": {"reference": "Patient/paul"},
                "code": {"coding": [{"system": SYSTEM + "aftercare-step", "code": step}]}, "reasonReference": {"reference": next(r["subject"] and f"Procedure/{r['id']}" for r in told() if r["resourceType"] == "Procedure")},
                "executionPeriod": {"end": "2026-03-16T10:30:00Z"}, "lastModified": "2026-03-16T10:31:00Z", "owner": {"reference": "Practitioner/operator", "display": "Operator (invented)"},
                "output": [{"type": {"coding": [{"system": system, "code": code}]}, **copy.deepcopy(RECORDED[code])} for system, code in outputs], **more}

    def test_all_steps_have_them_and_each_is_read(self):
        steps = self.steps()
        self.assertEqual(set(steps), {c["code"] for c in json.loads((ROOT / "profiles/fhir/CodeSystem-aftercare-step.json").read_text())["concept"]})
        for step, outputs in steps.items():
            self.assertLessEqual({"time", "note", "access-site"}, {code for _, code in outputs}, step)
        self.assertEqual({code for outputs in steps.values() for _, code in outputs}, set(RECORDED), "an output without a value to try it with")
        with tempfile.TemporaryDirectory() as place:
            pathlib.Path(place, "tasks.ndjson").write_text("".join(json.dumps(self.task(s, o)) + "\n" for s, o in steps.items()))
            code, said = validate("--quiet", f"{place}/tasks.ndjson")
            self.assertEqual(code, 0, said)
        for step, outputs in steps.items():
            with self.subTest(step=step):
                timeline, run = self.plan([*told(), self.task(step, outputs)])
                faults = [i for i in timeline["issues"] if i["at"].startswith(f"Task/done-{step}")]
                self.assertEqual(faults, [], run.stderr)

    def test_findings_count_whatever_step_they_were_recorded_on(self):
        facts = told()
        outputs = self.steps()["reduce-pressure"]
        worse = self.task("reduce-pressure", outputs)
        for one in worse["output"]:
            if one["type"]["coding"][0]["code"] == "foot-pulse":
                one["valueCodeableConcept"]["coding"][0] = {"system": SYSTEM + "check-finding", "code": "absent"}
        calm, _ = self.plan([*facts, self.task("reduce-pressure", outputs)])
        alarmed, _ = self.plan([*facts, worse])
        levels = lambda timeline: {(a["trigger"], a["level"]) for a in timeline["cases"][0]["alerts"] if "Task/done-reduce-pressure" in a["inputs"]}
        self.assertEqual(levels(calm), set())
        self.assertEqual(levels(alarmed), {("limb-ischaemia", "emergency")})

    def test_a_decision_on_a_completed_call_needs_a_person(self):
        facts = told()
        outputs = self.steps()["call-clinician"]
        for owner, said in (({"reference": "Practitioner/operator", "display": "Operator (invented)"}, []), ({"reference": "Organization/unit", "display": "Unit (invented)"}, ["no-performer"])):
            timeline, _ = self.plan([*facts, self.task("call-clinician", outputs, owner=owner)])
            self.assertEqual([i["code"] for i in timeline["issues"] if i["at"].startswith("Task/done-call")], said)


if __name__ == "__main__":
    unittest.main(verbosity=2)
