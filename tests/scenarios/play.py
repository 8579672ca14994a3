#!/usr/bin/env python3
"""Plays a story against a running daemon in rehearsal time, over HTTP, and prints what each fact moved.

Usage: play.py --story NAME --ports FILE [--until INSTANT] [--quiet]
FILE is what `aftersheath serve --ports FILE` wrote: the addresses of both listeners.
"""
import argparse
import datetime
import importlib
import json
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


def main():
    arguments = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    arguments.add_argument("--story", required=True)
    arguments.add_argument("--ports", required=True)
    arguments.add_argument("--until", type=datetime.datetime.fromisoformat)
    arguments.add_argument("--quiet", action="store_true")
    chosen = arguments.parse_args(namespace=argparse.Namespace(until=None))
    story = importlib.import_module(f"{chosen.story}.story")
    try:
        play(Daemon(chosen.ports), list(story.steps()), chosen.until, chosen.quiet)
    except urllib.error.HTTPError as error:
        print(f"play: {error.url} answered {error.code}: {error.read().decode()}", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
