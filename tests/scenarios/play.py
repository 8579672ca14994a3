#!/usr/bin/env python3
"""Plays a story against a running daemon in rehearsal time, over HTTP, and prints what each fact moved.

Usage: play.py --story NAME --ports FILE [--until INSTANT] [--chart FOLDER] [--quiet]
FILE is what `aftersheath serve --ports FILE` wrote: the addresses of both listeners. With the chart folder, how each case stands at the end.
"""
import argparse
import datetime
import importlib
import json
import pathlib
import sys
import urllib.error
import urllib.request


def call(method, url, body=None):
    data = json.dumps(body).encode() if body is not None else None
    request = urllib.request.Request(url, data=data, method=method, headers={"Content-Type": "application/fhir+json"})
    with urllib.request.urlopen(request, timeout=120) as answer:
        text = answer.read().decode()
        return json.loads(text) if text else None


class Daemon:
    def __init__(self, ports):
        with open(ports, encoding="utf-8") as file:
            addresses = json.load(file)
        self.public, self.admin = "http://" + addresses["public"], "http://" + addresses["admin"]
        self.seen = 0

    def move_clock(self, at):
        utc = at.astimezone(datetime.timezone.utc).strftime("%Y-%m-%dT%H:%M:%SZ")
        return call("POST", f"{self.admin}/clock?to={utc}")

    def put(self, resource):
        call("PUT", f"{self.public}/fhir/{resource['resourceType']}/{resource['id']}", resource)

    def settle(self):
        return call("POST", f"{self.admin}/settle")

    def status(self):
        return call("GET", f"{self.admin}/status")

    def news(self):
        rows = call("GET", f"{self.admin}/news?after={self.seen}")["news"]
        if rows:
            self.seen = rows[-1]["n"]
        return rows


def show(daemon):
    for row in daemon.news():
        print(f"      {row['text']}")


def play(daemon, steps, until=None, quiet=False):
    for step in steps:
        daemon.move_clock(step.at)
        if not quiet:
            show(daemon)
            if step.tell:
                print(f"\n{step.at.strftime('%H:%M')}  {step.tell}")
        daemon.put(step.resource)
        daemon.settle()
        if not quiet:
            show(daemon)
    if until:
        daemon.move_clock(until)
        daemon.settle()
        if not quiet:
            print(f"\n{until.astimezone(steps[-1].at.tzinfo).strftime('%H:%M')}  the story ends")
            show(daemon)


def clock(text, zone):
    return datetime.datetime.fromisoformat(text.replace("Z", "+00:00")).astimezone(zone).strftime("%-d %b %H:%M") if text else "no time yet"


def ending(case, zone):
    """One case in a line: where it stands, when the patient may walk, what is open."""
    parts = [case["state"]]
    for site in case["sites"]:
        parts += [f"{site['side']} groin, haemostasis {clock(site['t0'], zone)}"] if site["t0"] else [f"{site['side']} groin, no haemostasis yet"]
    walk = next((m for m in case["sites"][0]["milestones"] if m["step"] == "stand-and-walk"), None) if case["sites"] else None
    if walk:
        parts.append("walked " + clock(walk["actual"], zone) if walk["actual"] else f"on the feet not before {clock(walk['earliest'] or walk['expected'], zone)}")
    if case["alerts"]:
        parts.append("open alerts: " + "; ".join(f"{a['level'].upper()}: {a['why']}" for a in case["alerts"]))
    if case["missing"]:
        parts.append("asked for: " + ", ".join(sorted({m["fact"] for m in case["missing"]})))
    return "; ".join(parts)


def show_endings(chart, zone):
    print("\nHow they stand:")
    for path in sorted(pathlib.Path(chart).glob("*/timeline.json")):
        for case in json.loads(path.read_text(encoding="utf-8"))["cases"]:
            print(f"  {case['patient']}: {ending(case, zone)}")


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--story", required=True)
    arguments.add_argument("--ports", required=True)
    arguments.add_argument("--until", type=datetime.datetime.fromisoformat)
    arguments.add_argument("--chart")
    arguments.add_argument("--quiet", action="store_true")
    chosen = arguments.parse_args(namespace=argparse.Namespace(until=None))
    steps = list(importlib.import_module(f"{chosen.story}.story").steps())
    try:
        play(Daemon(chosen.ports), steps, chosen.until, chosen.quiet)
    except urllib.error.HTTPError as error:
        print(f"play: {error.url} answered {error.code}: {error.read().decode()}", file=sys.stderr)
        return 1
    if chosen.chart:
        show_endings(chosen.chart, steps[-1].at.tzinfo)
    return 0


if __name__ == "__main__":
    sys.exit(main())
