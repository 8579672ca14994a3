"""What the paper says is what timeline.json says: both from one run of `plan`, at many instants of every invented story, in the shipped languages by turns.

Forward: each coming step with a time stands on the sheet, as do T0, the instant of validity and the plan's hash. Backward: no clock time stands on the sheet that is
neither in timeline.json nor in the facts that went in (but for the hours and half hours of the drawn scale), and every laboratory value and dose that went in as shown.
"""
import datetime
import importlib
import json
import math
import pathlib
import re
import subprocess
import tempfile
import unittest

from support import PROGRAM, ROOT

import scenario  # noqa: F401  (the stories import it)

INSTANT = re.compile(r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(?:\.\d+)?(?:Z|[+-]\d\d:\d\d)$")
CLOCK = re.compile(r"(?<![\d:])([01]\d|2[0-3]):([0-5]\d)(?![\d:])")
OVER = {"done", "cancelled"}
LANGUAGES = ["en", "de", "fr", "es", "pl", "ar"]


def instant(text):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(datetime.timezone.utc)


def floor(at):
    return at.strftime("%H:%M")


def ceil(at):
    return datetime.datetime.fromtimestamp(math.ceil(at.timestamp() / 60) * 60, datetime.timezone.utc).strftime("%H:%M")


def instants_of(node):
    if isinstance(node, dict):
        for child in node.values():
            yield from instants_of(child)
    elif isinstance(node, list):
        for child in node:
            yield from instants_of(child)
    elif isinstance(node, str) and INSTANT.match(node):
        yield instant(node)


def plan(resources, at, language):
    """[(case of timeline.json, text of its sheet)]"""
    with tempfile.TemporaryDirectory() as place:
        file = pathlib.Path(place, "told.ndjson")
        file.write_text("\n".join(json.dumps(one) for one in resources))
        run = subprocess.run([PROGRAM, "plan", "--as-of", at.strftime("%Y-%m-%dT%H:%M:%SZ"), "--language", language, "--out", place, str(file)],
                             capture_output=True, text=True, timeout=120)
        if run.returncode not in (0, 3):
            raise AssertionError(run.stderr + run.stdout)
        cases = json.loads(pathlib.Path(place, "timeline.json").read_text())["cases"]
        sheets = sorted(pathlib.Path(place).glob("sheet-*.pdf"))
        texts = [subprocess.run(["pdftotext", "-raw", str(sheet), "-"], capture_output=True, text=True, check=True).stdout for sheet in sheets]
        return list(zip(cases, texts, strict=True))


class Paper(unittest.TestCase):
    def compare(self, case, text, resources, as_of, what):
        clocks = {":".join(found) for found in CLOCK.findall(text)}
        closed = case["state"] in ("withdrawn", "finished")
        for site in case["sites"]:
            for step in site["milestones"]:
                if step.get("earliest") and step["status"] not in OVER and not closed and step["step"] not in ("provide-missing", "print-sheet", "check-sheet", "check-after-walk"):
                    self.assertIn(ceil(instant(step["earliest"])), clocks, f"{what}: {site['key'] if 'key' in site else ''} {step['step']}")
            if site.get("t0") and not closed:
                self.assertIn(floor(instant(site["t0"])), clocks, f"{what}: T0")
        known = {as_of.strftime("%H:%M")} | {":".join(found) for found in CLOCK.findall(json.dumps(case))}  # also those that a sentence of its says
        for at in [*instants_of(case), *instants_of(resources)]:
            known |= {floor(at), ceil(at)}
        for found in sorted(clocks - known):
            self.assertTrue(found[3:] in ("00", "30"), f"{what}: {found} stands on the sheet and nowhere else")

    def values(self, text, resources, what):
        flat = re.sub(r"\s+", "", text)
        for one in resources:
            quantity = one.get("valueQuantity")
            code = json.dumps(one.get("code", {}))
            if quantity and any(name in code for name in ("ACT", "aPTT", "INR", "Platelets", "Haemoglobin", "Creatinine")) and one is self.newest.get(code):
                self.assertIn(str(quantity["value"]), flat, f"{what}: {code}")

    def story(self, name):
        steps = list(importlib.import_module(f"{name}.story").steps())
        instants = sorted({step.at.astimezone(datetime.timezone.utc) for step in steps})
        chosen = instants[::3] + instants[-1:]
        for number, at in enumerate(chosen):
            current = {}
            for step in steps:
                if step.at <= at:
                    current[step.resource["resourceType"], step.resource["id"]] = step.resource
            resources = list(current.values())
            self.newest = {}
            for one in resources:
                code = json.dumps(one.get("code", {}))
                if "valueQuantity" in one and one.get("effectiveDateTime", "") >= self.newest.get(code, {}).get("effectiveDateTime", ""):
                    self.newest[code] = one
            later = at + datetime.timedelta(minutes=2)
            language = LANGUAGES[number % len(LANGUAGES)]
            for case, text in plan(resources, later, language):
                what = f"{name} at {later:%H:%M} in {language}"
                self.compare(case, text, resources, later, what)
                self.values(text, resources, what)


for folder in sorted(pathlib.Path(ROOT, "tests", "scenarios").iterdir()):
    if (folder / "story.py").exists():
        setattr(Paper, f"test_{folder.name}", lambda self, name=folder.name: self.story(name))

if __name__ == "__main__":
    unittest.main()
