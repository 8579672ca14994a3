"""`publish`: what stands in profiles/fhir is what the program makes of the shipped protocols, and a protocol of two approvals is published as approved."""
import json
import pathlib
import re
import subprocess
import tempfile
import unittest

from support import PROGRAM, ROOT, validate

PROTOCOLS = ROOT / "profiles" / "protocol"


def publish(protocol, out):
    run = subprocess.run([PROGRAM, "publish", "--protocol", str(protocol), "--out", str(out)], capture_output=True, text=True, timeout=60)
    assert run.returncode == 0, run.stderr
    return {p.name: p.read_text() for p in pathlib.Path(out).glob("*.json")}


class Publish(unittest.TestCase):
    def setUp(self):
        self.folder = tempfile.TemporaryDirectory()
        self.place = pathlib.Path(self.folder.name)

    def tearDown(self):
        self.folder.cleanup()

    def test_the_shipped_definitions_are_those_of_the_shipped_protocols(self):
        for name in ("cautious", "early-walk"):
            for file, text in publish(PROTOCOLS / f"{name}.toml", self.place / name).items():
                if name != "cautious" and file.startswith("Activity"):
                    continue  # the same steps; the date is that of the newest value of the protocol
                with self.subTest(protocol=name, file=file):
                    self.assertEqual(text, (ROOT / "profiles" / "fhir" / file).read_text(), "run aftersheath publish --protocol ... --out profiles/fhir")

    def test_every_value_stands_with_its_source_once(self):
        plan = json.loads(publish(PROTOCOLS / "early-walk.toml", self.place)["PlanDefinition-early-walk.json"])
        artifacts = plan["relatedArtifact"] + [one for action in plan["action"] for one in action.get("documentation", [])]
        cited = [one["label"] for one in artifacts if one["type"] == "citation"]
        self.assertEqual(len(cited), len(set(cited)))
        written = set()
        for file in ("cautious", "early-walk"):
            table = ""
            for line in (PROTOCOLS / f"{file}.toml").read_text().splitlines():
                if head := re.match(r"\[([a-z0-9.-]+)\]$", line):
                    table = head[1]
                elif value := re.match(r"([a-z0-9.-]+) = \{", line):
                    written.add(f"{table}.{value[1]}")
        self.assertEqual(set(cited), written)
        limit = next(one for one in artifacts if one["label"] == "gate.act.limit")
        self.assertEqual(limit["display"], "150 s")
        self.assertRegex(limit["citation"], r"\(grade [A-Z], check [A-Za-z]+, looked at \d{4}-\d\d-\d\d\)$")

    def test_a_protocol_of_two_approvals_is_active_and_names_them(self):
        text = (PROTOCOLS / "cautious.toml").read_text().replace('status = "draft"', 'status = "active"')
        (self.place / "own.toml").write_text(text)
        checked = subprocess.run([PROGRAM, "check", "--protocol", str(self.place / "own.toml")], capture_output=True, text=True, timeout=60)
        covers = re.search(r"must cover ([0-9a-f]{64})", checked.stdout)[1]
        for name, role, day in (("Test Person (invented)", "consultant", "2026-11-25"), ("Other Person (invented)", "matron", "2026-11-24")):
            text += f'\n[[approval]]\nname = "{name}"\nrole = "{role}"\ndate = "{day}"\ncovers = "{covers}"\n'
        (self.place / "own.toml").write_text(text)
        out = publish(self.place / "own.toml", self.place / "out")
        plan = json.loads(out["PlanDefinition-cautious.json"])
        self.assertEqual((plan["status"], plan["experimental"], plan["approvalDate"]), ("active", False, "2026-11-25"))
        self.assertEqual([one["name"] for one in plan["endorser"]], ["Test Person (invented), consultant", "Other Person (invented), matron"])
        code, said = validate("--quiet", self.place / "out")
        self.assertEqual(code, 0, said[-2000:])

    def test_all_that_is_shipped_is_valid(self):
        code, said = validate("--quiet", ROOT / "profiles" / "fhir")
        self.assertEqual(code, 0, said[-2000:])


if __name__ == "__main__":
    unittest.main(verbosity=2)
