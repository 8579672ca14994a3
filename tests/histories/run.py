#!/usr/bin/env python3
"""Random histories against a real third-party FHIR server: tests/histories/run.py --count 300 --seed 1. Prints each history that broke something, whole."""
import argparse
import collections
import json
import sys
import tempfile
import time
import urllib.request
import pathlib

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "end_to_end"))
from checker import WRITER, dump, faults_of  # noqa: E402
from history import History  # noqa: E402
from support import peer, request, validate  # noqa: E402

BATCH = 40  # records that the validator reads at once


def one(seed, base, keep=None):
    request("POST", f"{base}/$peer/reset")
    with tempfile.TemporaryDirectory() as place:
        history = History(seed, base, place)
        try:
            history.play()
            history.stands = dump(base) + history.served
            faults = faults_of(history.stands, history)
            if faults and keep:
                pathlib.Path(keep).mkdir(parents=True, exist_ok=True)
                pathlib.Path(keep, f"{seed}.log").write_text((pathlib.Path(place) / "daemon.log").read_text())
                pathlib.Path(keep, f"{seed}.ndjson").write_bytes(urllib.request.urlopen(f"{base}/$peer/dump?history=1").read())
                pathlib.Path(keep, f"{seed}.requests").write_bytes(urllib.request.urlopen(f"{base}/$peer/log?kind=request").read())
            return history, faults
        finally:
            history.stop()


class Written:
    """What we wrote in each history, for the validator: standard and our own profiles."""

    def __init__(self, place):
        self.place, self.waiting, self.faults, self.types = pathlib.Path(place), 0, "", collections.Counter()

    def take(self, seed, resources):
        ours = [r for r in resources if any(tag["system"] == WRITER for tag in r.get("meta", {}).get("tag", []))]
        self.types.update(r["resourceType"] for r in ours)
        (self.place / f"{seed}.ndjson").write_text("".join(json.dumps(r) + "\n" for r in ours))
        self.waiting += 1
        if self.waiting == BATCH:
            self.judge()

    def judge(self):
        if self.waiting:
            code, output = validate("--quiet", self.place)
            self.faults += output if code else ""
            for file in self.place.glob("*.ndjson"):
                file.unlink()
            self.waiting = 0


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--keep", help="folder for the daemon's log and every version in the record, of histories that broke something")
    chosen = options.parse_args()
    broken, sums, begun = 0, collections.Counter(), time.time()
    with peer() as base, tempfile.TemporaryDirectory() as place:
        written = Written(place)
        for seed in range(chosen.seed, chosen.seed + chosen.count):
            history, faults = one(seed, base, chosen.keep)
            written.take(seed, history.stands)
            sums.update(edits=len(history.marks), disturbances=history.faults, hospitals=int(history.hospital), rivals=int(bool(history.rival)))
            if (seed - chosen.seed) % 10 == 9:
                print(f"{seed - chosen.seed + 1} histories, {broken} broke something", file=sys.stderr, flush=True)
            if faults:
                broken += 1
                print("\n".join([*history.log, *("  WRONG: " + fault for fault in faults)]), flush=True)
        written.judge()
    print(f"seeds {chosen.seed} to {chosen.seed + chosen.count - 1}, {chosen.count} histories in {time.time() - begun:.0f} s: {sums['disturbances']} disturbances of the record, {sums['edits']} edits by people, "
          f"{sums['hospitals']} at a large hospital record, {sums['rivals']} with two daemons, {broken} histories broke something; at their ends stood "
          + ", ".join(f"{n} {kind}" for kind, n in sorted(written.types.items())))
    if written.faults:
        print("what was written is not valid:\n" + written.faults[-4000:])
    return 1 if broken or written.faults else 0


if __name__ == "__main__":
    sys.exit(main())
