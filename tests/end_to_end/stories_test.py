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


if __name__ == "__main__":
    unittest.main(verbosity=2)
