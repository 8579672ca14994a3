"""Runs the program on a batch of cases and gives back its timetable as {path: value}, case by case."""
import json
import pathlib
import subprocess
import tempfile

import fhir
from facts import AS_OF, text

ROOT = pathlib.Path(__file__).resolve().parents[2]


def run(program, cases):
    """{key: case} -> {key: {path: value}}; empty where the program makes no case."""
    with tempfile.TemporaryDirectory() as folder:
        file = pathlib.Path(folder) / "facts.json"
        file.write_text(json.dumps(fhir.bundle(cases)))
        done = subprocess.run([program, "plan", "--data", str(ROOT), "--as-of", text(AS_OF), "--out", folder, str(file)], capture_output=True, text=True)
        if done.returncode not in (0, 3):
            raise RuntimeError(f"the program ended with {done.returncode}: {done.stderr[:2000]}")
        timeline = json.loads((pathlib.Path(folder) / "timeline.json").read_text())
    told = {case["patient"].removeprefix("Patient/"): case for case in timeline["cases"]}
    return {key: paths(case, told.get(key)) for key, case in cases.items()}


def sites_in_order(case, told):
    """The program's sites in the order of ours; None where they cannot be told apart."""
    if len(told["sites"]) != len(case["sites"]):
        return None
    if len(case["sites"]) == 1:
        return told["sites"]
    found = {(s["side"], s["vessel"]): s for s in told["sites"]}
    keys = [(s["side"] or "unknown", s["vessel"] or "unknown") for s in case["sites"]]
    return [found[k] for k in keys] if len(set(keys)) == len(keys) and set(keys) == set(found) else None


def paths(case, told):
    if told is None:
        return {}
    sites = sites_in_order(case, told)
    if sites is None:
        return None
    values = {"case state": told["state"], "case upAt": told["upAt"]}
    values["case clearance"] = told["creatinineClearance"]["value"] if told["creatinineClearance"] else None
    for number, site in enumerate(sites):
        name = f"site {number}"
        values[f"{name} t0"] = site["t0"]
        for gate in site["gates"]:
            values.update({f"{name} gate {gate['gate']} {field}": gate[field] for field in ("state", "opensAt", "expiresAt")})
        values.update(milestones(name, site["milestones"]))
        for field in ("p10", "p50", "p90", "nextDraw"):
            if site["projection"]:
                values[f"{name} projection {field}"] = site["projection"][field]
    for agent in told["agents"]:
        values.update({f"agent {agent['agent']} {field}": agent[field] for field in ("lastGiven", "fractionLeft", "halfLifeMinutes")})
    values.update({f"missing {entry['fact']}": True for entry in told["missing"]})
    return values


def milestones(name, steps):
    """A step that comes more than once (checks) is left out."""
    count = {}
    for step in steps:
        count[step["step"]] = count.get(step["step"], 0) + 1
    return {f"{name} step {step['step']} {field}": step[field] for step in steps if count[step["step"]] == 1
            for field in ("status", "earliest", "expected", "minutes", "afterT0Minutes")}
