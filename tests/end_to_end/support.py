"""Starting, stopping and killing the real daemon and the real peer, for the tests of the whole."""
import contextlib
import json
import os
import pathlib
import signal
import subprocess
import sys
import time
import urllib.error
import urllib.request

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests" / "scenarios"))
PROGRAM = os.environ.get("AFTERSHEATH", str(ROOT / "build" / "bin" / "aftersheath"))


def request(method, url, body=None, headers=None):
    """(status, JSON or None). HTTP errors are answers here, not exceptions."""
    data = body if isinstance(body, bytes) else json.dumps(body).encode() if body is not None else None
    asked = urllib.request.Request(url, data=data, method=method, headers={"Content-Type": "application/fhir+json", **(headers or {})})
    try:
        with urllib.request.urlopen(asked, timeout=120) as answer:
            status, text = answer.status, answer.read()
    except urllib.error.HTTPError as error:
        status, text = error.code, error.read()
    try:
        return status, json.loads(text) if text else None
    except ValueError:
        return status, text.decode(errors="replace")


class Daemon:
    """One data folder; started and stopped as often as wanted. The plan clock stands still until moved."""

    def __init__(self, place, record="", clock_from="2026-03-02T06:00:00Z", zone="Europe/Berlin", extra="", takes_over="", look_seconds=60, public="127.0.0.1:0", record_more="", mode="live"):
        self.place = pathlib.Path(place)
        self.place.mkdir(parents=True, exist_ok=True)
        self.clock_from, self.process = clock_from, None
        (self.place / "aftersheath.toml").write_text(f"""
[listen]
public = "{public}"
admin = "127.0.0.1:0"
[store]
url = "sqlite:aftersheath.db"
[chart]
folder = "chart"
{f'''[record]
base_url = "{record}"
purpose = "test"
mode = "{mode}"
takes_over = "{takes_over}"
look_seconds = {look_seconds}
source = "r"
{record_more}''' if record else ''}
[protocol]
file = "profiles/protocol/cautious.toml"
[site]
file = "profiles/site/default.toml"
time_zone = "{zone}"
{extra if "[limits]" in extra else extra + chr(10) + "[limits]"}
record_per_second = 1000
""")

    def start(self):
        ports = self.place / "ports.json"
        ports.unlink(missing_ok=True)
        self.log = open(self.place / "daemon.log", "ab")
        clock = ["--clock-from", self.clock_from, "--clock-speed", "0"] if self.clock_from else []  # none: the machine's
        self.process = subprocess.Popen([PROGRAM, "serve", "--config", str(self.place / "aftersheath.toml"), *clock, "--ports", str(ports)], stderr=self.log)
        for _ in range(600):
            if ports.exists():
                addresses = json.loads(ports.read_text())
                self.public, self.admin = "http://" + addresses["public"], "http://" + addresses["admin"]
                return self
            if self.process.poll() is not None:
                break
            time.sleep(0.02)
        raise AssertionError("the daemon did not start:\n" + (self.place / "daemon.log").read_text()[-2000:])

    def stop(self, how=signal.SIGTERM):
        if self.process:
            self.process.send_signal(how)
            self.process.wait(timeout=60)
            self.process = None
            self.log.close()

    def kill(self):
        self.stop(signal.SIGKILL)

    def __enter__(self):
        return self.start()

    def __exit__(self, *_):
        self.stop()

    def move_clock(self, at):
        status, answer = request("POST", f"{self.admin}/clock?to={at.astimezone(__import__('datetime').timezone.utc):%Y-%m-%dT%H:%M:%SZ}")
        assert status == 200, answer
        self.now = at

    def let_settle(self):
        """A new sheet waits some seconds for more facts."""
        self.move_clock(self.now + __import__("datetime").timedelta(seconds=6))

    def put(self, resource, path="/fhir"):
        status, answer = request("PUT", f"{self.public}{path}/{resource['resourceType']}/{resource['id']}", resource)
        assert status in (200, 201), (status, answer)

    def settle(self):
        status, answer = request("POST", f"{self.admin}/settle")
        assert status == 200, answer
        return answer

    def status(self):
        return request("GET", f"{self.admin}/status")[1]

    def chart(self):
        return self.place / "chart"


@contextlib.contextmanager
def peer(*arguments):
    """The third-party FHIR server; yields its base URL."""
    process = subprocess.Popen([str(ROOT / "tests/peer/node"), str(ROOT / "tests/peer/server.mjs"), "--port", "0", "--until-stdin-closes", *arguments],
                               stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    try:
        line = process.stdout.readline()
        assert line.startswith("LISTEN "), line
        yield line.split()[1]
    finally:
        process.stdin.close()
        try:
            process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            process.kill()


def validate(*paths, r5=False):
    """Runs the independent validator, what we publish included (profiles/fhir), or that of R5; returns (exit code, output)."""
    ours = [] if r5 else ["--definitions", str(ROOT / "profiles/fhir")]
    run = subprocess.run([str(ROOT / "tests/peer/node"), str(ROOT / "tests/peer/validate.mjs"), *ours, *map(str, paths)], capture_output=True, text=True,
                         env={**os.environ, **({"VALIDATE_AS": "R5"} if r5 else {})})
    return run.returncode, run.stdout + run.stderr


def story(name):
    import importlib
    return list(importlib.import_module(f"{name}.story").steps())


def clara():
    """The evening of one patient of the demonstration: her sheath size is missing at first."""
    return [s for s in story("recovery_evening") if "clara" in json.dumps(s.resource)]


def stories():
    return sorted(p.parent.name for p in (ROOT / "tests/scenarios").glob("*/story.py"))


def get(base, path):
    status, resource = request("GET", f"{base}/{path}", headers={"Cache-Control": "no-cache"})
    assert status == 200, (status, resource)
    return resource


def put(base, resource):
    status, answer = request("PUT", f"{base}/{resource['resourceType']}/{resource['id']}", resource)
    assert status in (200, 201), (status, answer)
    return answer


def look_again(daemon):
    """A round of asking, to its end; the status after it."""
    status, answer = request("POST", f"{daemon.admin}/look-again")
    assert status == 200, answer
    return answer


def explained(daemon, procedure="clara-case"):
    status, text = request("GET", f"{daemon.admin}/explain?procedure=Procedure/{procedure}")
    assert status == 200, text
    return text


def kept_in(base):
    """All that the peer holds, each in its last version."""
    return [json.loads(line) for line in urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()]


ITEM = "https://aftersheath.example/fhir/NamingSystem/item"


def search(base, query):
    """Every match, all pages."""
    found, url = [], f"{base}/{query}"
    while url:
        status, bundle = request("GET", url, headers={"Cache-Control": "no-cache"})
        assert status == 200, bundle
        found += [entry["resource"] for entry in bundle.get("entry", [])]
        url = next((link["url"] for link in bundle.get("link", []) if link["relation"] == "next"), None)
    return found


def identity(resource):
    identifiers = resource.get("identifier", [])
    identifiers = identifiers if isinstance(identifiers, list) else [identifiers]
    return next((i["value"] for i in identifiers if i.get("system") == ITEM), None)


def quiet(daemon, base):
    """Until neither the daemon nor the peer has anything under way."""
    last = None
    for _ in range(200):
        request("POST", f"{base}/$peer/settle")
        status = daemon.settle()
        now = json.dumps([status["events"], status["writes"]])
        if now == last and status["events"]["pending"] == 0 and status["writes"]["pending"] == 0:
            return status
        last = now
        time.sleep(0.05)
    raise AssertionError(f"never quiet: {status}")


WATCHED = ("Procedure", "Observation", "MedicationAdministration", "MedicationStatement", "Task", "Patient", "Encounter", "CarePlan")


def subscribe(daemon, base, kinds=WATCHED):
    for kind in kinds:
        status, made = request("POST", f"{base}/Subscription", {
            "resourceType": "Subscription", "status": "requested", "reason": "aftercare", "criteria": f"{kind}?",
            "channel": {"type": "rest-hook", "endpoint": f"{daemon.public}/fhir", "payload": "application/fhir+json"}})
        assert status == 201, made
