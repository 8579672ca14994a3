"""What should stand in the record at the end of a history, computed anew by `aftersheath plan` from the facts in the record alone: no store, no outbox, nothing
of what the daemon remembers. Which Tasks are missing, which should be gone, and whether the sheet that hangs is still the one that would be drawn."""
import base64
import datetime
import json
import pathlib
import re
import sqlite3
import subprocess

from support import PROGRAM, ROOT, identity

WRITER = "https://aftersheath.example/fhir/CodeSystem/writer"
WITH_A_WINDOW = ("draw-coagulation", "confirm-readiness", "remove-sheath", "firm-compression", "partial-compression", "light-compression", "reduce-pressure", "low-pressure-hold",
                 "end-compression", "dress-site", "check-site", "raise-head", "sit-up", "stand-and-walk", "check-after-walk", "discharge-check")


def is_ours(resource):
    return any(tag["system"] == WRITER for tag in resource.get("meta", {}).get("tag", []))


def plan_of(facts, at, place):
    """(timeline, Tasks) of these facts at that instant."""
    out = pathlib.Path(place)
    out.mkdir(exist_ok=True)
    site = re.sub(r"(?m)^time_zone = .*", 'time_zone = "Europe/Berlin"', (ROOT / "profiles/site/default.toml").read_text())
    (out / "site.toml").write_text(site)
    (out / "facts.ndjson").write_text("".join(json.dumps(r) + "\n" for r in facts))
    run = subprocess.run([PROGRAM, "plan", "--as-of", f"{at.astimezone(datetime.timezone.utc):%Y-%m-%dT%H:%M:%SZ}", "--site", out / "site.toml", "--out", out, out / "facts.ndjson"], capture_output=True, text=True)
    assert run.returncode in (0, 3), run.stderr
    written = json.loads((out / "transaction.json").read_text()).get("entry", []) if (out / "transaction.json").exists() else []
    return json.loads((out / "timeline.json").read_text()), [e["resource"] for e in written if e["resource"]["resourceType"] == "Task"]


def key(task):
    return task["for"]["reference"], task["code"]["coding"][0]["code"], task["code"]["text"], task["restriction"]["period"].get("start")


def tasks(history, stands, wanted):
    step = lambda t: t["code"]["coding"][0]["code"]
    with_window = lambda t: step(t) in WITH_A_WINDOW and "restriction" in t
    ours = [t for t in stands if t["resourceType"] == "Task" and identity(t)]
    there = {key(t) for t in ours if with_window(t)}
    expected = {key(t) for t in wanted if with_window(t)}
    found = [f"missing in the record: {one}" for one in sorted(expected - there)]
    for task in ours:
        open_and_ours = task["status"] in ("requested", "ready") and ("Task", task["id"]) not in history.edits
        if with_window(task) and open_and_ours and key(task) not in expected:
            found.append(f"Task/{task['id']} is open and the facts ask for none: {key(task)}")
    # What is asked of people is asked once a case and groin; the window is that of its writing.
    asked = lambda all_of: {(t["for"]["reference"], step(t)) for t in all_of if step(t) == "provide-missing"}
    found += [f"nobody is asked for what is missing: {one}" for one in sorted(asked(wanted) - asked([t for t in ours if t["status"] != "cancelled"]))]
    return found


def calls_for_a_sheet(case):
    """Of what a new sheet is made (architecture): side, size, closure, T0, conflicts, milestones that are recorded, gates, missing facts, alerts, validity."""
    sites = [(s["side"], s["vessel"], s["french"], s["closure"], s["t0"], [(g["gate"], g["state"]) for g in s["gates"]],
              [(m["step"], m["status"], m["actual"]) for m in s["milestones"] if m["status"] in ("done", "cancelled") and m["step"] != "check-site"]) for s in case["sites"]]
    return [case["state"], sites, [(m["fact"], m["askedOf"]) for m in case["missing"]], [(c["fact"], c["values"]) for c in case["conflicts"]], [(a["trigger"], a["level"]) for a in case["alerts"]]]


def sheets(history, stands, facts, timeline, place):
    found = []
    binaries = {f"Binary/{one['id']}": one for one in stands if one["resourceType"] == "Binary"}
    evaluated = sqlite3.connect(f"file:{history.daemon.place}/aftersheath.db?mode=ro", uri=True).execute("SELECT now, plan_hash FROM evaluation").fetchall()
    end = {c["procedure"]: calls_for_a_sheet(c) for c in timeline["cases"]}
    for document in stands:
        if document["resourceType"] != "DocumentReference" or not identity(document) or document["status"] != "current":
            continue
        attachment = document["content"][0]["attachment"]
        made = datetime.datetime.fromisoformat(attachment["creation"].replace("Z", "+00:00"))
        content = base64.b64decode(binaries[attachment["url"].split("/fhir/")[-1]]["data"])
        text = subprocess.run(["pdftotext", "-layout", "-", "-"], input=content, capture_output=True, check=True).stdout.decode()
        plans = {plan for at, plan in evaluated if at // 1000 == int(made.timestamp())}
        if not any(plan[:12] in text.replace("\n", "") for plan in plans):
            found.append(f"DocumentReference/{document['id']} of {attachment['creation']} bears the hash of no plan of that time: {plans}")
        case = next((r["reference"] for r in document["context"]["related"] if r.get("reference", "").startswith("Procedure/")), None)
        if case not in end:
            continue
        # A daemon that is behind the clock knows facts of later: either reading will do.
        known = {}
        for at, resource in history.charted:
            if at <= made:
                known[(resource["resourceType"], resource["id"])] = resource
        for all_of in (list(known.values()), facts):
            then = next((calls_for_a_sheet(c) for c in plan_of(all_of, made, place)[0]["cases"] if c["procedure"] == case), None)
            if then == end[case]:
                break
        else:
            differ = [(a, b) for a, b in zip(then or [], end[case]) if a != b]
            found.append(f"DocumentReference/{document['id']} of {attachment['creation']} hangs, and a newer sheet is called for: {differ}")
    return found


def faults_of(history, stands):
    if history.rival:  # which of the two writes, and what it has seen, is judged by checker.py
        return []
    completed = lambda r: r["resourceType"] == "Task" and r["status"] == "completed"
    facts = [r for r in stands if r["resourceType"] not in ("Subscription", "Binary") and (not is_ours(r) or completed(r))]
    place = pathlib.Path(history.place, "expected")
    timeline, wanted = plan_of(facts, history.now, place)
    return tasks(history, stands, wanted) + sheets(history, stands, facts, timeline, place)
