#!/usr/bin/env python3
"""Random histories against a real third-party FHIR server: tests/histories/run.py --count 300 --seed 1. Several are played side by side, each with a server
and a daemon of its own. Prints each history that broke something, whole."""
import argparse
import collections
import json
import multiprocessing
import os
import pathlib
import sys
import tempfile
import time
import traceback
import urllib.request

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "end_to_end"))
import expected  # noqa: E402
from checker import WRITER, dump, faults_of  # noqa: E402
from history import History  # noqa: E402
from support import peer, request, validate  # noqa: E402

BATCH = 100  # records that the validator reads at once
SIDE_BY_SIDE = 3 * (os.cpu_count() or 2)  # most of a history is waiting


def one(seed, base, keep=None):
    request("POST", f"{base}/$peer/reset")
    with tempfile.TemporaryDirectory() as place:
        history = History(seed, base, place)
        try:
            history.play()
            history.stands = dump(base) + history.served
            history.stop()  # its store is read
            faults = faults_of(history.stands, history) + expected.faults_of(history, history.stands)
            if faults and keep:
                pathlib.Path(keep).mkdir(parents=True, exist_ok=True)
                pathlib.Path(keep, f"{seed}.log").write_text((pathlib.Path(place) / "daemon.log").read_text())
                pathlib.Path(keep, f"{seed}.ndjson").write_bytes(urllib.request.urlopen(f"{base}/$peer/dump?history=1").read())
                pathlib.Path(keep, f"{seed}.requests").write_bytes(urllib.request.urlopen(f"{base}/$peer/log?kind=request").read())
            return history, faults
        finally:
            history.stop()


def play_all(seeds, results, place, keep):
    """In a process of its own: one history after the other on one server, until no seed is left."""
    with peer() as base:
        for seed in iter(seeds.get, None):
            try:
                history, faults = one(seed, base, keep)
                ours = [r for r in history.stands if any(tag["system"] == WRITER for tag in r.get("meta", {}).get("tag", []))]
                pathlib.Path(place, f"{seed}.ndjson").write_text("".join(json.dumps(r) + "\n" for r in ours))
                sums = {"edits": len(history.marks), "disturbances": history.faults, "orders": len(history.orders), "hospitals": int(bool(history.hospital)), "rivals": int(bool(history.rival))}
                results.put((seed, history.log, faults, sums, collections.Counter(r["resourceType"] for r in ours)))
            except Exception:  # a history that cannot be played to its end is one that broke something
                results.put((seed, [f"seed {seed}"], [traceback.format_exc()], {}, {}))


class Written:
    """What we wrote in each history, for the validator: standard and our own profiles."""

    def __init__(self, place):
        self.place, self.waiting, self.faults, self.types = pathlib.Path(place), [], "", collections.Counter()

    def take(self, seed, types):
        self.types.update(types)
        self.waiting.append(self.place / f"{seed}.ndjson")
        if len(self.waiting) == BATCH:
            self.judge()

    def judge(self):
        files = [file for file in self.waiting if file.exists()]
        if files:
            code, output = validate("--quiet", *files)
            self.faults += output if code else ""
        for file in files:
            file.unlink()
        self.waiting = []


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--side-by-side", type=int, default=SIDE_BY_SIDE, help="histories played at once")
    options.add_argument("--keep", help="folder for the daemon's log and every version in the record, of histories that broke something")
    chosen = options.parse_args()
    broken, sums, begun = 0, collections.Counter(), time.time()
    seeds, results = multiprocessing.Queue(), multiprocessing.Queue()
    for seed in range(chosen.seed, chosen.seed + chosen.count):
        seeds.put(seed)
    with tempfile.TemporaryDirectory() as place:
        players = [multiprocessing.Process(target=play_all, args=(seeds, results, place, chosen.keep), daemon=True) for _ in range(min(chosen.side_by_side, chosen.count))]
        for player in players:
            seeds.put(None)
            player.start()
        written = Written(place)
        for played in range(1, chosen.count + 1):
            seed, log, faults, more, types = results.get(timeout=1200)
            written.take(seed, types)
            sums.update(more)
            if faults:
                broken += 1
                print("\n".join([*log, *("  WRONG: " + fault for fault in faults)]), flush=True)
            if played % 50 == 0:
                print(f"{played} histories in {time.time() - begun:.0f} s, {broken} broke something", file=sys.stderr, flush=True)
        for player in players:
            player.join(timeout=60)
        written.judge()
    print(f"seeds {chosen.seed} to {chosen.seed + chosen.count - 1}, {chosen.count} histories in {time.time() - begun:.0f} s: {sums['disturbances']} disturbances of the record, {sums['edits']} edits by people, "
          f"{sums['orders']} orders that clash, {sums['hospitals']} at a large hospital record, {sums['rivals']} with two daemons, {broken} histories broke something; at their ends stood "
          + ", ".join(f"{n} {kind}" for kind, n in sorted(written.types.items())))
    if written.faults:
        print("what was written is not valid:\n" + written.faults[-4000:])
    return 1 if broken or written.faults else 0


if __name__ == "__main__":
    sys.exit(main())
