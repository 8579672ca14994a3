"""What a record really does is found out by trying, for a patient of test data, and taken back."""
import json
import pathlib
import subprocess
import tempfile
import unittest
import urllib.request

from support import Daemon, PROGRAM, peer, request, validate

LABEL = {"security": [{"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST"}]}
PATIENT = {"resourceType": "Patient", "id": "trial", "meta": LABEL, "active": True, "identifier": [{"system": "https://hospital.example/mrn", "value": "T-1"}], "name": [{"family": "Trial (invented)"}]}
STAY = {"resourceType": "Encounter", "id": "trial-stay", "meta": LABEL, "status": "in-progress", "class": {"code": "IMP", "system": "http://terminology.hl7.org/CodeSystem/v3-ActCode"},
        "subject": {"reference": "Patient/trial"}}
HOSPITAL = '[documents]\ntype = "https://hospital.example/document-type|nursing-plan|Nursing plan (invented)"\nauthor = "Organization/hospital"'


class Probing(unittest.TestCase):
    def probe(self, *arguments):
        run = subprocess.run([PROGRAM, "probe", *arguments], capture_output=True, text=True, timeout=120)
        return run.returncode, run.stdout, run.stderr

    def tried(self, *personalities, patient=PATIENT, extra="", record_more="", who="Patient/trial"):
        """(exit code, report, what stands afterwards, every version written, what was said)"""
        arguments = [a for p in personalities for a in ("--personality", p)]
        with tempfile.TemporaryDirectory() as place, peer() as base:
            for resource in (patient, STAY, {"resourceType": "Organization", "id": "hospital", "name": "The hospital (invented)"}):
                status, answer = request("PUT", f"{base}/{resource['resourceType']}/{resource['id']}", resource)
                self.assertIn(status, (200, 201), answer)
            for personality in personalities:
                name, _, options = personality.partition("=")
                request("POST", f"{base}/$peer/personality", {"name": name, "options": json.loads(options or "{}")})
            daemon = Daemon(place, record=base, extra=extra, record_more=f'test_patient = "{who}"\n{record_more}')
            code, out, said = self.probe("--config", f"{place}/aftersheath.toml", "--json")
            dump = lambda query="": [json.loads(line) for line in urllib.request.urlopen(f"{base}/$peer/dump{query}").read().decode().splitlines()]
            stands = [r for r in dump() if r["resourceType"] not in ("Patient", "Encounter", "Organization")]
            file = pathlib.Path(place) / "versions.ndjson"
            file.write_text("".join(json.dumps(r) + "\n" for r in dump("?history=1") if "resourceType" in r))
            if out:
                with daemon:
                    self.assertEqual(daemon.status()["record"]["probed"]["rung"], json.loads(out)["rung"])
            return code, json.loads(out) if out else None, stands, file.read_text(), said

    def test_a_record_that_takes_the_one_and_not_the_other(self):
        for types, serve in ((["CarePlan", "GuidanceResponse", "Provenance"], "care-plans"), (["Task"], "tasks")):
            with self.subTest(serve=serve):
                code, report, _, _, said = self.tried("refuses-create=" + json.dumps({"types": types, "updates": True}))
                self.assertEqual((code, report["rung"], report["serve"], report["settings"]["record.serve"]), (0, "single-writes", serve, serve), said)
                self.assertEqual(len(report["serveLosses"]), 2)

    def test_a_record_that_does_everything(self):
        code, report, stands, _, said = self.tried("strict")
        self.assertEqual((code, report["rung"], report["left"], stands, said), (0, "transactions", [], [], ""))
        found = {k: v["found"] for k, v in report["findings"].items()}
        for what in ("create-care-plan", "create-task", "search-by-identifier", "search-fresh", "if-none-exist", "if-match", "update", "conditional-update", "history", "transaction",
                     "if-match-in-transaction", "twenty-entries", "create-binary", "document-with-binary", "document-inline", "document-page", "large-binary", "document-update", "urn-in-attachment",
                     "create-communication", "create-provenance", "create-guidance-response", "search-by-patient", "search-by-last-updated", "client-ids"):
            self.assertEqual(found[what], "yes", (what, report["findings"][what]))
        self.assertEqual(report["settings"]["record.writing"], "transactions")
        self.assertEqual(report["losses"]["transactions"], [])

    def test_what_a_rung_needs_and_a_record_lacks(self):
        for personality, rung, what, found in (("no-transactions", "single-writes", "transaction", "no"), ("no-transactions={\"claims\":true}", "single-writes", "transaction", "no"),
                                               ("ignores-if-match", "single-writes", "if-match-in-transaction", "overlooked"), ("refuses-urn-in-url", "single-writes", "urn-in-attachment", "no"),
                                               ("ignores-if-match={\"everywhere\":true}", "documents", "if-match", "overlooked"), ("refuses-create", "documents", "create-task", "no"),
                                               ("no-client-ids", "transactions", "client-ids", "no"), ("entry-limit={\"entries\":5}", "transactions", "twenty-entries", "no")):
            code, report, stands, _, _ = self.tried(personality)
            self.assertEqual((code, report["rung"], report["findings"][what]["found"]), (0, rung, found), personality)
            self.assertEqual((report["left"], stands), ([], []), personality)

    def test_a_large_hospital_record(self):
        code, report, stands, _, _ = self.tried("large-hospital", extra=HOSPITAL)
        self.assertEqual(code, 0)
        self.assertEqual(report["settings"], {"record.writing": "documents", "documents.attachment": "binary", "documents.found_by": "patient", "documents.conditions": "no",
                                              "documents.updates": "yes", "documents.communication": "yes"})
        self.assertEqual(stands, [])
        code, report, _, _, said = self.tried("large-hospital", record_more='writing = "transactions"')
        self.assertEqual((code, report["rung"]), (1, "none"), "neither its type nor its author: no document either")
        self.assertIn("DocumentReference", json.dumps(report["findings"]["document-inline"]))
        self.assertIn("nothing can be written", said)
        code, report, _, _, _ = self.tried('large-hospital={"documentUpdates":false,"communication":false}', extra=HOSPITAL)
        self.assertEqual((report["settings"]["documents.updates"], report["settings"]["documents.communication"]), ("no", "no"))

    def test_what_cannot_be_deleted_is_marked_and_what_cannot_be_marked_is_said(self):
        keeps = 'unavailable={"every":1,"length":1,"status":405,"methods":["DELETE"]}'
        code, report, stands, _, _ = self.tried(keeps)
        self.assertEqual(code, 0)
        marked = [one for one in report["left"] if "entered in error" in one]
        self.assertEqual({r["status"] for r in stands if "status" in r and r["resourceType"] != "GuidanceResponse"}, {"entered-in-error"})
        self.assertEqual(len(report["left"]), len(stands))
        self.assertTrue(any(one.startswith("Binary/") and "still stands" in one for one in report["left"]))
        self.assertTrue(marked)

    def test_nobody_is_tried_on_who_is_not_test_data(self):
        code, report, stands, _, said = self.tried(patient={k: v for k, v in PATIENT.items() if k != "meta"})
        self.assertEqual((code, report, stands), (2, None, []))
        self.assertIn("HTEST", said)
        code, report, stands, _, said = self.tried(who="Patient/nobody")
        self.assertEqual((code, stands), (2, []))
        self.assertIn("not found", said)

    def test_everything_that_was_written_is_sound_and_marked_as_test_data(self):
        with tempfile.TemporaryDirectory() as place:
            _, _, _, versions, _ = self.tried(who="https://hospital.example/mrn|T-1")
            written = [r for r in map(json.loads, versions.splitlines()) if r["resourceType"] not in ("Patient", "Encounter", "Organization")]
            self.assertTrue(len(written) > 20)
            for resource in written:
                self.assertEqual(resource["meta"]["security"][0]["code"], "HTEST", resource["resourceType"])
            file = pathlib.Path(place) / "written.ndjson"
            file.write_text("".join(json.dumps(r) + "\n" for r in written))
            code, output = validate("--quiet", file)
            self.assertEqual(code, 0, output[-2000:])

    def test_an_address_alone_and_nobody_there(self):
        with peer() as base:
            request("PUT", f"{base}/Patient/trial", PATIENT)
            code, out, _ = self.probe(base, "--patient", "Patient/trial")
            self.assertEqual(code, 0)
            self.assertIn("rung: transactions", out)
            self.assertIn('writing = "transactions"', out)
            self.assertEqual(self.probe(base)[0], 2)
        self.assertEqual(self.probe("http://127.0.0.1:9", "--patient", "Patient/trial")[0], 1)
        self.assertEqual(self.probe()[0], 2)


if __name__ == "__main__":
    unittest.main(verbosity=2)
