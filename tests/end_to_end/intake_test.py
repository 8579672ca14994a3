"""Bad input gets a clear answer, is kept aside, and the daemon goes on; the official R4 examples start no plan."""
import json
import pathlib
import subprocess
import tempfile
import unittest
import urllib.error
import urllib.request

from support import PROGRAM, ROOT, Daemon, request

EXAMPLES = ROOT / "tests/peer/examples.mjs"


def examples(place):
    subprocess.run([str(ROOT / "tests/peer/node"), str(EXAMPLES), "--out", place], check=True, capture_output=True)
    return sorted(p for p in pathlib.Path(place).rglob("*.json"))


class Intake(unittest.TestCase):
    def test_bad_input(self):
        rows = [("not JSON", "PUT", "/fhir/Observation/o1", b'{"resourceType": "Observation", ', 400, "line"),
                ("no resource", "PUT", "/fhir/Observation/o1", b'{"hello": 1}', 400, "resourceType"),
                ("another type", "PUT", "/fhir/Observation/o1", b'{"resourceType": "Task", "id": "o1"}', 422, "resourceType"),
                ("another id", "PUT", "/fhir/Observation/o1", b'{"resourceType": "Observation", "id": "o2"}', 422, "Observation.id"),
                ("empty", "PUT", "/fhir/Observation/o1", b"", 400, None),
                ("no such path", "PUT", "/elsewhere", b"{}", 404, None)]
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            for name, method, path, body, expected, where in rows:
                with self.subTest(name):
                    status, outcome = request(method, daemon.public + path, body)
                    self.assertEqual(status, expected, outcome)
                    self.assertEqual(outcome["resourceType"], "OperationOutcome")
                    if where:
                        self.assertIn(where, " ".join(outcome["issue"][0].get("expression", [])))
            status, _ = request("PUT", daemon.public + "/fhir/Observation/o1", b"x", {"Content-Type": "text/plain"})
            self.assertEqual(status, 415)
            status, _ = request("PUT", daemon.public + "/fhir/Observation/o1", b"x", {"Content-Encoding": "gzip"})
            self.assertEqual(status, 415)
            self.assertEqual(request("GET", daemon.admin + "/livez")[0], 200)
            after = daemon.settle()
            self.assertEqual(after["events"]["received"], 0)
            self.assertEqual(after["quarantine"]["kept"], 4, "kept aside for inspection")

    def test_what_is_too_large_for_a_hook_is_looked_for(self):
        with tempfile.TemporaryDirectory() as place, Daemon(place, extra="[limits]\nbody_bytes = 65536") as daemon:
            for path, events in (("/fhir/Observation/o1", 0), ("/fhir/hook/ward/acts/Observation/o1", 1)):
                self.assertEqual(request("PUT", daemon.public + path, b" " * 65537)[0], 413)
                self.assertEqual(daemon.settle()["events"]["received"], events, path)
            self.assertIn("larger than 65536 bytes", (daemon.place / "daemon.log").read_text())

    def test_codes_that_mean_nothing_here_are_listed_by_count(self):
        lab = {"system": "https://hospital.example/lab", "code": "K17", "display": "ACT at the bedside"}
        value = {"resourceType": "Observation", "status": "final", "subject": {"reference": "Patient/a"}, "effectiveDateTime": "2026-03-02T13:50:00Z",
                 "code": {"coding": [lab]}, "valueQuantity": {"value": 140, "unit": "s", "system": "http://unitsofmeasure.org", "code": "s"}}
        said = '2 x unmapped-result: https://hospital.example/lab|K17 "ACT at the bedside"'
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            for name in ("o1", "o2"):
                status, outcome = request("PUT", f"{daemon.public}/fhir/Observation/{name}", {**value, "id": name})
                self.assertEqual(status, 200)
                self.assertIn("K17", json.dumps(outcome), "the sender is told")
            daemon.settle()
            self.assertIn({"what": said[4:], "count": 2}, daemon.status()["unmapped"])
            config = str(daemon.place / "aftersheath.toml")
            running = subprocess.run([PROGRAM, "check", "--config", config], capture_output=True, text=True, timeout=60)
            self.assertEqual(running.returncode, 0, running.stderr)
            self.assertIn(said, running.stdout)
            daemon.stop()
            stopped = subprocess.run([PROGRAM, "check", "--config", config], capture_output=True, text=True, timeout=60)
            self.assertIn(said, stopped.stdout)
            # With a map of the site they mean something, and nothing is listed.
            site = (ROOT / "profiles/site/default.toml").read_text()
            (daemon.place / "site.toml").write_text('concept_maps = ["lab.json"]\n' + site)
            (daemon.place / "lab.json").write_text(json.dumps({"resourceType": "ConceptMap", "status": "active", "group": [
                {"source": lab["system"], "target": "http://loinc.org", "element": [{"code": "K17", "target": [{"code": "3184-9", "equivalence": "equivalent"}]},
                                                                                   {"code": "K18", "target": [{"code": "3184-9", "equivalence": "relatedto"}]}]}]}))
            text = pathlib.Path(config).read_text().replace('"profiles/site/default.toml"', '"site.toml"')
            pathlib.Path(config).write_text(text)
            mapped = subprocess.run([PROGRAM, "check", "--config", config], capture_output=True, text=True, timeout=60)
            self.assertEqual(mapped.returncode, 0, mapped.stderr)
            self.assertNotIn("K17", mapped.stdout)
            self.assertIn("K18 is left out: relatedto", mapped.stderr)
            (daemon.place / "lab.json").write_text("{")
            faulty = subprocess.run([PROGRAM, "check", "--config", config], capture_output=True, text=True, timeout=60)
            self.assertEqual(faulty.returncode, 2)
            self.assertIn("lab.json:1:", faulty.stderr)

    def test_over_the_high_water_mark_senders_keep_what_they_have(self):
        patient = {"resourceType": "Patient", "id": "p"}
        with tempfile.TemporaryDirectory() as place, Daemon(place, extra="[limits]\ndisk_free_mebibytes = 1073741824") as daemon:
            asked = urllib.request.Request(f"{daemon.public}/fhir/Patient/p", data=json.dumps(patient).encode(), method="PUT", headers={"Content-Type": "application/fhir+json"})
            with self.assertRaises(urllib.error.HTTPError) as refused:
                urllib.request.urlopen(asked)
            self.assertEqual(refused.exception.code, 503)
            self.assertTrue(refused.exception.headers["Retry-After"])
            self.assertIn("room left on the disk", refused.exception.read().decode())
            self.assertEqual(request("GET", f"{daemon.admin}/readyz")[0], 503)
            self.assertIn("room left on the disk", " ".join(daemon.status()["notReady"]))
            self.assertEqual(daemon.status()["events"]["received"], 0)

    def test_what_cannot_be_used_is_taken_kept_aside_and_named(self):
        of_patient = {"subject": {"reference": "Patient/a"}, "status": "final", "effectiveDateTime": "2026-03-02T13:50:00Z"}
        act = {"resourceType": "Observation", "id": "act", **of_patient, "code": {"coding": [{"system": "http://loinc.org", "code": "3184-9"}]}, "valueQuantity": {"value": 140}}
        finding = "https://aftersheath.example/fhir/CodeSystem/check-finding"
        check = {"resourceType": "Observation", "id": "check", **of_patient, "code": {"coding": [{"system": finding, "code": "site-check"}]},
                 "component": [{"code": {"coding": [{"system": finding, "code": "bleeding"}]}, "valueCodeableConcept": {"coding": [{"system": finding, "code": "oozing"}]}}]}
        good = {**act, "id": "good", "valueQuantity": {"value": 140, "unit": "s", "system": "http://unitsofmeasure.org", "code": "s"}}
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            for resource, where in ((act, "Observation/act.valueQuantity"), (check, "Observation/check.component[0]"), (good, None)):
                with self.subTest(resource["id"]):
                    status, outcome = request("PUT", f"{daemon.public}/fhir/Observation/{resource['id']}", resource)
                    self.assertEqual(status, 200, outcome)
                    self.assertEqual([issue["expression"] for issue in outcome["issue"]] if outcome else None, [[where]] if where else None)
            after = daemon.settle()
            self.assertEqual((after["events"]["received"], after["quarantine"]["kept"]), (3, 2))

    def test_the_official_examples_start_no_plan(self):
        with tempfile.TemporaryDirectory() as place:
            files = examples(place + "/examples")
            self.assertGreater(len(files), 5000)
            with Daemon(place + "/daemon") as daemon:
                refused = 0
                for file in files:
                    status, outcome = request("POST", daemon.public + ("/fhir" if b'"Bundle"' in file.read_bytes()[:400] else "/fhir/" + json.loads(file.read_text()).get("resourceType", "X")),
                                              file.read_bytes())
                    self.assertIn(status, (200, 201, 400, 404, 422), (file, outcome))
                    refused += status >= 400
                after = daemon.settle()
                self.assertEqual(after["openCases"], 0)
                self.assertEqual(after["events"]["pending"], 0)
                print(f"{len(files)} official examples: {refused} refused, events {after['events']}")

    def test_five_of_them_turned_into_femoral_cases_are_found(self):
        names = ("Procedure-example.json", "Procedure-f002.json", "Procedure-f003.json", "Procedure-f201.json", "Procedure-example-implant.json")
        with tempfile.TemporaryDirectory() as place:
            files = {p.name: p for p in examples(place + "/examples")}
            changed = []
            for number, name in enumerate(names):
                resource = json.loads(next(path for known, path in files.items() if known.lower() == name.lower()).read_text())
                resource["status"] = "completed"
                resource["performedPeriod"] = {"start": f"2026-03-02T0{number + 1}:00:00+01:00", "end": f"2026-03-02T0{number + 1}:40:00+01:00"}
                resource.pop("performedDateTime", None)
                resource["extension"] = [{"url": "https://aftersheath.example/fhir/StructureDefinition/femoral-access", "valueBoolean": True}]
                resource["bodySite"] = [{"coding": [{"system": "http://snomed.info/sct", "code": "69833005"}]}]
                changed.append(pathlib.Path(place, name))
                changed[-1].write_text(json.dumps(resource))
            run = subprocess.run([PROGRAM, "plan", "--as-of", "2026-03-02T14:00:00Z", "--out", place + "/out", *map(str, changed)], capture_output=True, text=True)
            self.assertEqual(run.returncode, 3, run.stderr[-2000:])  # much is missing, and each says so
            cases = json.loads(pathlib.Path(place, "out/timeline.json").read_text())["cases"]
            self.assertEqual(len(cases), 5)
            for case in cases:
                self.assertEqual(case["sites"][0]["side"], "right")
                self.assertIsNone(next(m for m in case["sites"][0]["milestones"] if m["step"] == "remove-sheath")["earliest"])
                self.assertIn("sheath-size", [m["fact"] for m in case["missing"]])

    def test_plan_finds_no_case_in_them(self):
        with tempfile.TemporaryDirectory() as place:
            files = examples(place + "/examples")
            run = subprocess.run([PROGRAM, "plan", "--as-of", "2026-03-02T14:00:00Z", "--out", place + "/out", *map(str, files)], capture_output=True, text=True, timeout=300)
            self.assertEqual(run.returncode, 0, run.stderr[-2000:])
            timeline = json.loads(pathlib.Path(place, "out/timeline.json").read_text())
            self.assertEqual(timeline["cases"], [])


if __name__ == "__main__":
    unittest.main(verbosity=2)
