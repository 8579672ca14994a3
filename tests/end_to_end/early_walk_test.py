"""The program under the second shipped protocol: `check`, `plan`, the table, the sheet, and what a line of text changes. Invented patient."""
import json
import pathlib
import subprocess
import tempfile
import unittest

from support import PROGRAM, ROOT

from scenario import BASE, Day, Patient, arrival, out_and_dry, watch

EARLY = str(ROOT / "profiles" / "protocol" / "early-walk.toml")
DAY = Day("2026-03-16", 1)
PLAIN = {"url": f"{BASE}/StructureDefinition/puncture-quality", "valueCode": "uncomplicated"}


def resources(french=6, plain=True, ooze=False, inr=1.0):
    """A diagnostic case by the book of the trials: everything that they left out is recorded as absent, dry at 11:25, checked at 11:40."""
    p = Patient(DAY, "ella", "Erfunden", "Ella", "1968-05-09", "male")
    procedure = p.procedure("09:00", "09:40", "right", french, ("33367005", "Coronary angiography"))
    if plain:
        procedure["extension"].append(PLAIN)
    rows = [*arrival(p, procedure, "09:50", inr=inr, height=178),
            ("09:51", "", [p.statement("no-anticoagulant-given", "09:51"), p.statement("no-home-anticoagulant", "09:52")]),
            ("10:55", "", watch(p, "10:55", 126, 70, 66)), *out_and_dry(p, "11:00", "11:25"),
            ("11:40", "", [p.check("11:40", bleeding="ooze" if ooze else "none")])]
    return [resource for _, _, told in rows for resource in told]


class EarlyWalk(unittest.TestCase):
    def run_program(self, *arguments):
        return subprocess.run([PROGRAM, *map(str, arguments)], capture_output=True, text=True, timeout=120)

    def plan(self, told, protocol=EARLY, at="2026-03-16T10:45:00Z", code=0):
        """(case of timeline.json, table, text of the sheet). `code`: 3 where something is asked for."""
        with tempfile.TemporaryDirectory() as place:
            file = pathlib.Path(place, "told.ndjson")
            file.write_text("\n".join(json.dumps(one) for one in told))
            run = self.run_program("plan", "--as-of", at, "--protocol", protocol, "--out", place, file)
            self.assertEqual(run.returncode, code, run.stderr + run.stdout)
            sheet = subprocess.run(["pdftotext", "-raw", f"{place}/sheet-1.pdf", "-"], capture_output=True, text=True).stdout
            return json.loads(pathlib.Path(place, "timeline.json").read_text())["cases"][0], run.stdout, " ".join(sheet.split())

    def walk(self, case):
        return next(m for m in case["sites"][0]["milestones"] if m["step"] == "stand-and-walk")

    def test_check_judges_the_file(self):
        run = self.run_program("check", "--protocol", EARLY)
        self.assertEqual(run.returncode, 0, run.stderr)
        self.assertIn("protocol: early-walk 1.0.0, NOT APPROVED", run.stdout)
        self.assertEqual(self.run_program("check").returncode, 2)
        self.assertEqual(self.run_program("check", "--protocol", "no-such-protocol").returncode, 2)

    def test_check_names_a_fault_with_its_place(self):
        with tempfile.TemporaryDirectory() as place:
            text = pathlib.Path(EARLY).read_text().replace("cautious.toml\"", str(ROOT / "profiles/protocol/cautious.toml") + "\"").replace("excluded]\naccess", "excluded]\nacess")
            file = pathlib.Path(place, "ward.toml")
            file.write_text(text)
            run = self.run_program("check", "--protocol", file)
            line = 1 + text[:text.index("acess")].count("\n")
            self.assertEqual(run.returncode, 2)
            self.assertIn(f"ward.toml:{line}:1: unknown key 'early-walk.excluded.acess'", run.stderr)
            self.assertIn("[early-walk.excluded] lacks access", run.stderr)

    # Wood, Cathet Cardiovasc Diagn 1997;42:8: up at 2.5 h after compression.
    def test_the_row_stands_with_its_trial(self):
        case, table, sheet = self.plan(resources())
        walk = self.walk(case)
        self.assertEqual(walk["afterT0Minutes"], 150)
        self.assertEqual(walk["earliest"], "2026-03-16T12:55:00Z")
        row = next(b for b in walk["basis"] if b["rule"] == "early-walk.rest.6")
        self.assertIn("Wood, Cathet Cardiovasc Diagn 1997;42:8", row["source"])
        self.assertIn("Right groin: early row, 2 h 30 min from haemostasis", " ".join(table.split()))
        self.assertIn("Right groin: early row, 2 h 30 min from haemostasis", sheet)
        cautious, _, without = self.plan(resources(), protocol="cautious")
        self.assertEqual(self.walk(cautious)["afterT0Minutes"], 360)
        self.assertNotIn("early", without)

    def test_what_rules_it_out_is_named_everywhere(self):
        case, table, sheet = self.plan(resources(ooze=True, plain=False))
        walk = self.walk(case)
        self.assertEqual(walk["afterT0Minutes"], 360)
        said = {b["rule"]: b["arithmetic"] for b in walk["basis"]}
        self.assertEqual(said["early-walk.excluded.bleeding"], "no early row: ooze, bleeding or swelling (full check after haemostasis)")
        self.assertIn("not recorded as absent", said["early-walk.excluded.puncture"])
        for text in (" ".join(table.split()), sheet, " ".join(case["cautions"])):
            self.assertIn("Right groin: no early walk. Ruled out by: ooze, bleeding or swelling", text)
            self.assertIn("no early walk until recorded as absent: puncture not plain", text)

    def test_several_are_listed_in_one_sentence(self):
        case, _, _ = self.plan(resources(plain=False, inr=None), code=3)
        self.assertEqual([(m["fact"], m["blocks"]) for m in case["missing"]], [("inr", []), ("puncture-quality", [])])
        self.assertIn("Right groin: no early walk until recorded as absent: high INR, puncture not plain: several, difficult, high, low, antegrade or upsized.", case["cautions"])

    def test_8_french_has_no_row(self):
        case, _, sheet = self.plan(resources(french=8))
        self.assertEqual(self.walk(case)["afterT0Minutes"], 480)
        self.assertIn("no early walk, no trial supports it at 8 F", sheet)


if __name__ == "__main__":
    unittest.main(verbosity=2)
