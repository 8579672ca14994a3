"""Reads the record after a history and says what is wrong in it. Knows nothing of how the daemon works, only what must hold."""
import base64
import collections
import hashlib
import json
import urllib.request

from support import identity

STEP = "https://aftersheath.example/fhir/CodeSystem/aftercare-step"
CLASH = "https://aftersheath.example/fhir/CodeSystem/order-clash"
WRITER = "https://aftersheath.example/fhir/CodeSystem/writer"
OPEN = ("draft", "requested", "received", "accepted", "ready", "in-progress", "on-hold")


def dump(base):
    return [json.loads(line) for line in urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()]


def faults_of(resources, history):
    """A list of sentences, empty when all is well."""
    found = []
    by = collections.defaultdict(list)
    for resource in resources:
        by[resource["resourceType"]].append(resource)
    for kind in ("CarePlan", "Task", "DocumentReference", "GuidanceResponse", "DetectedIssue"):
        twice = [i for i, n in collections.Counter(identity(r) for r in by[kind] if identity(r)).items() if n > 1]
        found += [f"{kind} {one} stands twice" for one in twice]
    found += plans(by, set(history.edits)) + issues(by, history) + documents(by) + people(resources, history) + writers(by, history) + ledgers(history)
    return found


def step_of(task):
    return task["code"]["coding"][0]["code"]


def plans(by, touched):
    found = []
    standing = collections.Counter()
    for plan in by["CarePlan"]:
        if identity(plan) and plan["status"] in ("draft", "active", "on-hold"):
            standing[plan["supportingInfo"][0]["reference"] if plan.get("supportingInfo") else plan["subject"]["reference"]] += 1
            if plan["status"] == "draft":
                found.append(f"CarePlan/{plan['id']} is still a draft")
    found += [f"{n} CarePlans stand for {case}" for case, n in standing.items() if n > 1]
    tasks = {f"Task/{t['id']}": t for t in by["Task"]}
    for plan in by["CarePlan"]:
        if not identity(plan) or plan["status"] != "active":
            continue
        named = [a["reference"]["reference"] for a in plan.get("activity", []) if "reference" in a]
        found += [f"CarePlan/{plan['id']} names {one}, which is not there" for one in named if one not in tasks]
        found += [f"CarePlan/{plan['id']} names {one} twice" for one, n in collections.Counter(named).items() if n > 1]
        ours_open = [ref for ref, t in tasks.items() if identity(t) and step_of(t) != "abort" and ("Task", t["id"]) not in touched and t["status"] in ("requested", "ready") and t.get("focus", {}).get("reference") == f"CarePlan/{plan['id']}"]
        found += [f"{ref} is open and not in CarePlan/{plan['id']}" for ref in ours_open if ref not in named]
    for ref, task in tasks.items():
        if identity(task) and step_of(task) != "abort" and ("Task", task["id"]) not in touched and task["status"] in ("requested", "ready"):
            plan = next((p for p in by["CarePlan"] if task.get("focus", {}).get("reference") == f"CarePlan/{p['id']}"), None)
            if not plan or plan["status"] != "active":
                found.append(f"{ref} is open though its CarePlan is not active")
    same = collections.Counter((t["for"]["reference"], step_of(t), t["code"]["text"], t.get("focus", {}).get("reference"), json.dumps(t.get("input", []), sort_keys=True), json.dumps(t.get("restriction", {}), sort_keys=True))
                               for t in by["Task"] if identity(t) and ("Task", t["id"]) not in touched and t["status"] in ("requested", "ready"))
    found += [f"{n} open Tasks say the same: {what[:2]}" for what, n in same.items() if n > 1]
    return found


def issues(by, history):
    """What is told of clinicians' orders: nothing of one that no longer stands, and nothing twice."""
    found, open_ones = [], collections.Counter()
    for issue in by["DetectedIssue"]:
        over = any(code.get("system") == CLASH for one in issue.get("mitigation", []) for code in one["action"].get("coding", []))
        if not identity(issue) or issue["status"] != "final" or over:
            continue
        order = issue["implicated"][0]["reference"]
        key = next(one["valueString"] for one in issue["extension"] if one["url"].endswith("/item-key")).split("|")
        open_ones[(order, key[0], key[6])] += 1  # of a groin where it is of one
        if history.orders.get(order) != "active" and ("DetectedIssue", issue["id"]) not in history.edits:
            found.append(f"DetectedIssue/{issue['id']} is still open, though {order} is {history.orders.get(order)}")
        plan = next((p for p in by["CarePlan"] if issue["implicated"][1].get("reference") == f"CarePlan/{p['id']}"), None)
        if not plan or plan["status"] not in ("active", "completed"):
            found.append(f"DetectedIssue/{issue['id']} is open without an active CarePlan")
    return found + [f"{n} open DetectedIssues for {what}" for what, n in open_ones.items() if n > 1]


def documents(by):
    found = []
    binaries = {f"Binary/{b['id']}": b for b in by["Binary"]}
    current = collections.Counter()
    for document in by["DocumentReference"]:
        if not identity(document) or document["status"] != "current":
            continue
        case = next((r["reference"] for r in document.get("context", {}).get("related", []) if r.get("reference", "").startswith("Procedure/")), document["subject"]["reference"])
        current[case] += 1
        attachment = document["content"][0]["attachment"]
        binary = binaries.get(attachment.get("url", "").split("/fhir/")[-1])
        content = base64.b64decode(binary["data"]) if binary else b""
        if not content.startswith(b"%PDF"):
            found.append(f"DocumentReference/{document['id']} has no PDF behind it")
        elif attachment.get("hash") and base64.b64decode(attachment["hash"]) != hashlib.sha1(content).digest():
            found.append(f"DocumentReference/{document['id']} has another hash than its PDF")
    found += [f"{n} current documents for {case}" for case, n in current.items() if n > 1]
    return found


def people(resources, history):
    """What a person did stands as it was left; a Task in a person's hands was not touched again."""
    found = []
    stands = {(r["resourceType"], r["id"]): r for r in resources}
    for kind, ident, mark in history.marks:
        if mark not in json.dumps(stands.get((kind, ident), {})):
            found.append(f"what a person wrote on {kind}/{ident} is gone")
    for key, left in history.edits.items():
        now = stands.get(key)
        if now and now["meta"]["versionId"] != left["meta"]["versionId"]:
            found.append(f"{'/'.join(key)} was written again after a person ({left['status']} -> {now['status']})")
    return found


def writers(by, history):
    """Of two daemons one writes for a case, and the other says that it stopped; nobody's items are mixed."""
    found, writing = [], collections.defaultdict(set)
    for kind in ("CarePlan", "Task", "DocumentReference", "GuidanceResponse", "DetectedIssue"):
        for resource in by[kind]:
            for tag in resource["meta"].get("tag", []):
                if tag["system"] == WRITER and identity(resource):
                    writing[resource.get("for", resource.get("subject", resource.get("patient")))["reference"]].add(tag["code"])
    found += [f"two installations wrote for {patient}" for patient, all in writing.items() if len(all) > 1]
    if history.rival_status and writing:
        alarms = history.status["alarms"] + history.rival_status["alarms"]
        found += [f"nobody says that another writes for {patient}: {alarms}" for patient in writing if not any("installation" in alarm or "tag" in alarm for alarm in alarms)]
    return found


def ledgers(history):
    status, found = history.status, []
    events, writes = status["events"], status["writes"]
    if events["received"] != sum(events[k] for k in ("applied", "irrelevant", "pending", "dead")):
        found.append(f"the ledger of events does not close: {events}")
    if writes["queued"] != sum(writes[k] for k in ("delivered", "superseded", "pending", "dead")):
        found.append(f"the ledger of writes does not close: {writes}")
    if events["pending"] or events["dead"]:
        found.append(f"events are left over: {events}")
    if writes["pending"] or writes["dead"]:
        found.append(f"writes are left over: {writes}; alarms: {status['alarms']}")
    return found
