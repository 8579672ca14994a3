"""Every story, played against the daemon with files: an independent validator finds no fault in what is written, both ledgers close."""
import json
import pathlib
import tempfile
import unittest

from support import Daemon, stories, story, validate


class Stories(unittest.TestCase):
    def play(self, name, place):
        steps = story(name)
        with Daemon(place, clock_from=steps[0].at.isoformat()) as daemon:
            for step in steps:
                daemon.move_clock(step.at)
                daemon.put(step.resource)
                daemon.settle()
            daemon.move_clock(steps[-1].at.replace(hour=23, minute=59))
            status = daemon.settle()
        events, writes = status["events"], status["writes"]
        self.assertEqual(events["received"], len(steps))
        self.assertEqual(events["received"], events["applied"] + events["irrelevant"] + events["pending"] + events["dead"])
        self.assertEqual(events["pending"] + events["dead"], 0, status)
        self.assertEqual(writes["queued"], writes["delivered"] + writes["superseded"] + writes["pending"] + writes["dead"])
        self.assertEqual(writes["pending"] + writes["dead"], 0, status)
        return daemon.chart()

    def test_what_is_written_is_valid(self):
        names = stories()
        self.assertGreaterEqual(len(names), 12)
        resources, types, states = 0, set(), set()
        with tempfile.TemporaryDirectory() as place:
            charts = []
            for name in names:
                with self.subTest(story=name):
                    charts.append(self.play(name, f"{place}/{name}"))
            files = [p for chart in charts for p in sorted(chart.rglob("transaction-*.json"))]
            for file in files:
                for entry in json.loads(file.read_text())["entry"]:
                    resources += 1
                    types.add(entry["resource"]["resourceType"])
                    if entry["resource"]["resourceType"] == "Task":
                        states.add(entry["resource"]["status"])
            code, output = validate("--quiet", *files)
            self.assertEqual(code, 0, output[-5000:])
        print(f"{resources} resources in {len(files)} transactions of {len(names)} stories; types {sorted(types)}; Task states {sorted(states)}")
        self.assertGreaterEqual(resources, 200)
        self.assertLessEqual({"CarePlan", "Task", "DocumentReference", "Binary", "Provenance", "GuidanceResponse"}, types)
        self.assertLessEqual({"requested", "cancelled"}, states)

    # What is planted into a resource as the daemon wrote it, and what the validator must say for it: each resource keeps our own profile, not the standard alone.
    BROKEN = [("Task", lambda r: r["identifier"].clear() or r["identifier"].append({"value": "1"}), "identifier:item"),
              ("Task", lambda r: r.pop("restriction"), "restriction"),
              ("Task", lambda r: r["code"]["coding"].reverse(), "as-task-2"),
              ("Task", lambda r: r["code"]["coding"][0].update(code="wait-and-see"), "wait-and-see"),
              ("Task", lambda r: r["input"][0]["type"]["coding"][0].update(code="colour"), "colour"),
              ("Task", lambda r: r.update(intent="option"), "written-intent"),
              ("Task", lambda r: r["meta"].pop("security"), None),
              ("Task", lambda r: r["focus"].update(reference="Patient/anna"), "focus"),
              ("CarePlan", lambda r: r.pop("period"), "as-plan-2"),
              ("CarePlan", lambda r: r["activity"].append(r["activity"][0]), "as-plan-1"),
              ("CarePlan", lambda r: r["extension"][0].update(url=r["extension"][0]["url"] + "-2"), "is not defined"),
              ("CarePlan", lambda r: r["extension"][0].update(valueCode=r["extension"][0].pop("valueString")), "needs valueString"),
              ("DocumentReference", lambda r: r["content"][0]["attachment"].pop("hash"), "hash"),
              ("DocumentReference", lambda r: r["context"]["related"].pop(), "related"),
              ("Binary", lambda r: r.pop("securityContext"), "securityContext"),
              ("Provenance", lambda r: r["policy"].pop(), "policy"),
              ("Provenance", lambda r: r["entity"][0].update(role="quotation"), "role"),
              ("GuidanceResponse", lambda r: r.pop("evaluationMessage"), "evaluationMessage")]

    def test_a_resource_that_leaves_its_profile_is_caught(self):
        with tempfile.TemporaryDirectory() as place:
            chart = self.play("recovery_evening", f"{place}/daemon")
            written = {}
            for file in sorted(chart.rglob("transaction-*.json")):
                for entry in json.loads(file.read_text())["entry"]:
                    if entry["resource"]["resourceType"] != "CarePlan" or entry["resource"].get("activity"):
                        written.setdefault(entry["resource"]["resourceType"], entry["resource"])
            lines = []
            for kind, damage, _ in self.BROKEN:
                broken = json.loads(json.dumps(written[kind]))
                damage(broken)
                lines.append(json.dumps(broken))
            pathlib.Path(place, "broken.ndjson").write_text("\n".join(lines) + "\n")
            output = validate(f"{place}/broken.ndjson")[1]
        for number, (kind, _, said) in enumerate(self.BROKEN, 1):
            with self.subTest(kind=kind, said=said):
                faults = [line for line in output.splitlines() if f"line {number}: " in line]
                self.assertEqual(bool(faults), said is not None, faults)
                self.assertTrue(said is None or any(said in line for line in faults), faults)


if __name__ == "__main__":
    unittest.main(verbosity=2)
