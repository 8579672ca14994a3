"""One random history: an invented story of facts played into a real third-party FHIR server and a real daemon, while nurses and others edit what the
daemon wrote, the server behaves badly, and the daemon is killed. Everything random comes from the seed. What must hold at the end: checker.py."""
import datetime
import json
import random
import sys
import pathlib
import time
import urllib.error
import urllib.request

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "end_to_end"))
from documents_test import settings  # noqa: E402
from orders import orders_in, patient_of  # noqa: E402
from roster_test import with_category  # noqa: E402
from support import Daemon, WATCHED, identity, request, search, stories, story, subscribe  # noqa: E402

TRIES = 60
SERVED = ("CarePlan", "DetectedIssue", "GuidanceResponse", "Provenance", "Task")
UTC = datetime.timezone.utc

# How servers behave beside the standard, and for how many steps at most. Those that hide writes for ever are tested by themselves.
FAULTS = [("lost-response", {"every": 3, "what": "write"}), ("lost-response", {"every": 2, "what": "transaction", "cut": "half"}),
          ("throttling", {"requests": 30, "perSeconds": 1, "retryAfter": 1}), ("stale-search", {"seconds": 60}), ("unavailable", {"every": 6, "length": 2}),
          ("html-page", {"every": 9}), ("clock-drift", {}), ("lossy-push", {"every": 3}), ("duplicate-push", {}), ("reordered-push", {"every": 2, "ms": 60}),
          ("broken-paging", {"kind": "repeat"}), ("slow", {"ms": 15}),
          ("wrong-answer", {"every": 3, "kind": "count"}), ("wrong-answer", {"every": 2, "kind": "order"}), ("wrong-answer", {"every": 4, "kind": "ids", "what": "write"})]


def of_some(steps, shape):
    """Of a story with several patients mostly one of them, at times more, seldom all."""
    patients = sorted({patient_of(step.resource) for step in steps})
    kept = shape.sample(patients, min(len(patients), shape.choice((1, 1, 1, 1, 2, 3))))
    return [step for step in steps if patient_of(step.resource) in kept]


class History:
    def __init__(self, seed, base, place):
        self.random = random.Random(seed)
        self.base, self.place = base, place
        self.story = self.random.choice(stories())
        shape = random.Random(f"shape {seed}")  # apart, so that the rest of a history does not depend on it
        self.steps = of_some(story(self.story), shape)
        self.orders = orders_in(self.steps, shape)
        self.log = [f"seed {seed}: {self.story}, {len(self.steps)} steps"]
        self.edits = {}          # (type, id) -> the resource as its last editor left it
        self.charted = []        # (when, resource), in order
        self.marks = []          # (type, id, mark): must be found in the record at the end
        self.strict_rung = self.random.random() < 0.25
        self.faults = 0
        self.pushed = self.random.random() < 0.7
        chance = shape.random()
        self.hospital, self.rival = chance < 0.15, None
        self.refuses_issues = chance > 0.9      # takes all but a DetectedIssue: that is served by the daemon
        self.judges = 0.87 < chance < 0.9       # every write against the whole of R4
        self.overlooks = False                  # overlooks ifMatch inside transactions
        self.patience = shape.choice((0.1, 0.4, 1.5))  # for how long facts wait for what they caused, in seconds
        self.overlooks = not self.hospital and not self.strict_rung and shape.random() < 0.2
        more = "[limits]\nlongest_backoff_seconds = 1\nsettle_unknown_seconds = 1"
        begin = f"{self.steps[0].at.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
        if self.hospital:  # takes documents alone: the list of work is served by the daemon
            self.log[0] += ", a large hospital record"
            self.strict_rung = self.pushed = False
            patients = sorted({step.resource["subject"]["reference"] for step in self.steps if step.resource["resourceType"] == "Procedure"})
            pathlib.Path(place, "roster.txt").write_text("\n".join(patients) + "\n")
            more = settings().replace("[limits]", "[limits]\nlongest_backoff_seconds = 1")
        self.daemon = Daemon(place, record=base, look_seconds=0, extra=more, clock_from=begin, record_more='writing = "documents"' if self.hospital else "")
        if self.refuses_issues:
            self.log[0] += ", a record without DetectedIssue"
        if self.judges:
            self.log[0] += ", a strict record"
        if self.overlooks:
            self.log[0] += ", a record that overlooks ifMatch in transactions"
        if not self.hospital and chance < 0.27:
            self.log[0] += ", two daemons"
            self.rival = Daemon(pathlib.Path(place, "rival"), record=base, look_seconds=0, extra=more, clock_from=begin)

    def note(self, text):
        self.log.append(text)

    def at(self, kind):
        """Where resources of that kind stand."""
        here = (self.hospital and kind in SERVED) or (self.refuses_issues and kind == "DetectedIssue")
        return f"{self.daemon.public}/fhir" if here else self.base

    def certainly(self, method, path, resource=None, headers=None):
        """A nurse's system tries again; what it is answered at last. Its own repeats count as one."""
        for _ in range(TRIES):
            try:
                status, answer = request(method, f"{self.at(path.split('/')[0])}/{path}", resource, headers)
            except OSError:
                status, answer = 0, None
            if status == 429:
                time.sleep(0.03)
            if status == 412 or (method == "DELETE" and status in (204, 404, 410)) or (200 <= status < 300 and isinstance(answer, dict) and answer.get("resourceType") not in (None, "OperationOutcome")):
                return status, answer
        return 0, None

    def chart(self, step):
        resource = with_category(step.resource) if self.hospital else step.resource
        self.charted.append((step.at, resource))
        self.certainly("PUT", f"{resource['resourceType']}/{resource['id']}", resource)

    def nature(self):
        """How this record is, whatever befalls it."""
        if self.strict_rung:
            self.personality("no-transactions", {})
        if self.hospital:
            self.personality("large-hospital", {})
        if self.refuses_issues:
            self.personality("refuses-create", {"types": ["DetectedIssue"], "status": 405, "updates": True})
        if self.judges:
            self.personality("strict", {})
        if self.overlooks:
            self.personality("ignores-if-match", {})

    def play(self):
        self.nature()
        if self.hospital:
            for name in ("hospital", "recovery"):
                self.certainly("PUT", f"Organization/{name}", {"resourceType": "Organization", "id": name, "name": f"{name} (invented)"})
        self.daemon.start()
        if self.rival:
            self.rival.start()
        if self.pushed:
            subscribe(self.daemon, self.base, WATCHED)
        for step in self.steps:
            self.move(step.at)
            self.chart(step)
            self.disturb()
        self.calm()

    def disturb(self):
        chance = self.random.random()
        if chance < 0.25:
            self.fault()
        elif chance < 0.35:
            self.clear()
        elif chance < 0.43:
            self.kill()
        elif chance < 0.70:
            self.edit()
        if not self.pushed and self.random.random() < 0.4:
            self.ask("look-again", wait=False)
        if self.rival and self.random.random() < 0.4:
            self.ask("look-again", wait=False, daemon=self.rival)

    def move(self, at):
        self.now = at
        for daemon in (self.daemon, self.rival):
            if daemon:
                self.ask(f"clock?to={at.astimezone(__import__('datetime').timezone.utc):%Y-%m-%dT%H:%M:%SZ}", wait=False, daemon=daemon)

    def ask(self, what, wait=True, daemon=None):
        """What the daemon cannot finish under a fault it finishes later: nobody waits here."""
        asked = urllib.request.Request(f"{(daemon or self.daemon).admin}/{what}", data=b"", method="POST")
        try:
            urllib.request.urlopen(asked, timeout=60 if wait else self.patience).read()
        except (OSError, urllib.error.URLError):
            pass

    def personality(self, name, options):
        request("POST", f"{self.base}/$peer/personality", {"name": name, "options": options})

    def fault(self):
        name, options = self.random.choice(FAULTS)
        self.note(f"record: {name} {json.dumps(options)}")
        self.personality(name, options)
        self.faults += 1

    def clear(self):
        request("DELETE", f"{self.base}/$peer/personality")
        self.nature()
        self.note("record: well again")

    def kill(self):
        self.note("daemon: killed")
        self.daemon.kill()
        self.daemon.clock_from = f"{self.now.astimezone(UTC):%Y-%m-%dT%H:%M:%SZ}"
        self.daemon.start()
        if self.pushed:  # the address of the intake is another one now
            for one in self.all("Subscription"):
                self.certainly("DELETE", f"Subscription/{one['id']}")
            try:
                subscribe(self.daemon, self.base, WATCHED)
            except (AssertionError, OSError):
                self.pushed = False  # refused just now: then it is asked for

    # -- people

    def all(self, kind):
        for _ in range(TRIES):
            try:
                return search(self.at(kind), kind)
            except (AssertionError, OSError, KeyError, AttributeError, ValueError):
                continue
        return []

    def edit(self):
        self.random.choice([self.claim, self.claim, self.finish, self.reject, self.note_on_plan, self.note_on_task, self.note_on_document, self.note_on_issue])()

    def pick(self, kind, statuses):
        fitting = sorted((r for r in self.all(kind) if identity(r) and r["status"] in statuses), key=lambda r: identity(r))
        return self.random.choice(fitting) if fitting else None

    def change(self, resource, what):
        """Read, changed, written under If-Match, as a careful client does; a 412 is somebody else's turn."""
        kind, ident = resource["resourceType"], resource["id"]
        status, now = self.certainly("GET", f"{kind}/{ident}", headers={"Cache-Control": "no-cache"})
        if status != 200:
            return
        before = now["meta"]["versionId"]
        what(now)
        mark = f"mark {self.random.randrange(10**12)}"
        now.setdefault("note", []).append({"text": mark}) if kind in ("Task", "CarePlan") else now.setdefault("extension", []).append({"url": "https://hospital.example/mark", "valueString": mark})
        for _ in range(TRIES):
            try:
                status, answer = request("PUT", f"{self.at(kind)}/{kind}/{ident}", now, {"If-Match": f'W/"{before}"'})
            except OSError:
                status, answer = 0, None
            if 200 <= status < 300 and isinstance(answer, dict) and answer.get("resourceType") == kind:
                break
            if status in (409, 412):  # ours from before, unanswered, or another's
                stands = self.certainly("GET", f"{kind}/{ident}", headers={"Cache-Control": "no-cache"})[1]
                if not stands or mark not in json.dumps(stands):
                    return
                answer = stands
                break
        else:
            return
        self.note(f"person: {what.__name__} on {kind}/{ident} ({now.get('status')})")
        self.marks.append((kind, ident, mark))
        if kind == "Task" or now.get("status") == "cancelled":
            self.edits[(kind, ident)] = answer

    def claim(self):
        def claimed(task):
            task.update(status=self.random.choice(["accepted", "in-progress"]), owner={"display": "Nurse on duty (invented)"})
        if task := self.pick("Task", ("requested", "ready")):
            self.change(task, claimed)

    def finish(self):
        def finished(task):
            task.update(status="completed", lastModified=f"{self.now.astimezone(__import__('datetime').timezone.utc):%Y-%m-%dT%H:%M:%SZ}")
        # Steps that move no clock: what they mean for the plan is tested elsewhere.
        if (task := self.pick("Task", ("requested", "accepted", "in-progress"))) and task["code"]["coding"][0]["code"] in ("provide-missing", "print-sheet", "check-sheet", "ask-anticoagulant-plan"):
            self.change(task, finished)

    def reject(self):
        def rejected(task):
            task.update(status="rejected", statusReason={"text": "Not now (invented)"})
        if task := self.pick("Task", ("requested",)):
            self.change(task, rejected)

    def note_on_plan(self):
        def foreign_element(plan):
            plan.setdefault("extension", []).append({"url": "https://hospital.example/foreign", "valueDecimal": 1.5})
        if not self.hospital and (plan := self.pick("CarePlan", ("draft", "active"))):  # what is served here is read, but for the Tasks
            self.change(plan, foreign_element)

    def note_on_task(self):
        def noted(task):
            pass
        if task := self.pick("Task", ("requested",)):
            self.change(task, noted)

    def note_on_document(self):
        def described(document):
            document.setdefault("extension", []).append({"url": "https://hospital.example/foreign", "valueString": "seen"})
        if document := self.pick("DocumentReference", ("current",)):
            self.change(document, described)

    def note_on_issue(self):
        def looked_at(issue):
            issue.setdefault("mitigation", []).append({"action": {"text": "Spoken about with the prescriber (invented)"}})

        def put_aside(issue):
            issue["status"] = "cancelled"
        what = self.random.choice((looked_at, put_aside))
        if not self.hospital and not self.refuses_issues and (issue := self.pick("DetectedIssue", ("final",))):
            self.change(issue, what)

    # -- the end

    def calm(self):
        """The record is well again, and everything that waits is done."""
        self.clear()
        self.settled()
        self.move(self.now + datetime.timedelta(seconds=6))
        rounds = 0
        for _ in range(480):
            self.settled()
            status = self.daemon.status()
            reading = any("nothing is written before" in alarm for alarm in status["alarms"])  # what of ours stands is asked for once more
            done = status["events"]["pending"] == 0 and status["writes"]["pending"] == status["writes"]["held"] and not reading
            rounds = rounds + 1 if done else 0
            self.status = status
            if rounds == 2:  # what it wrote last has come back as well
                break
            time.sleep(0.25)
        self.rival_status = self.rival.status() if self.rival else None
        here = SERVED if self.hospital else ("DetectedIssue",) if self.refuses_issues else ()
        self.served = [one for kind in here for one in self.all(kind)]

    def settled(self):
        if self.pushed:
            request("POST", f"{self.base}/$peer/settle")
        for daemon in (self.daemon, self.rival):
            if daemon:
                self.ask("look-again", daemon=daemon)

    def stop(self):
        for daemon in (self.daemon, self.rival):
            if daemon:
                daemon.stop()
