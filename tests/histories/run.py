#!/usr/bin/env python3
"""Random histories against a real third-party FHIR server: tests/histories/run.py --count 300 --seed 1. Prints each history that broke something, whole."""
import argparse
import sys
import tempfile
import time
import urllib.request
import pathlib

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parent))
sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "end_to_end"))
from checker import dump, faults_of  # noqa: E402
from history import History  # noqa: E402
from support import peer, request  # noqa: E402


def one(seed, base, keep=None):
    request("POST", f"{base}/$peer/reset")
    with tempfile.TemporaryDirectory() as place:
        history = History(seed, base, place)
        try:
            history.play()
            faults = faults_of(dump(base), history)
            if faults and keep:
                pathlib.Path(keep).mkdir(parents=True, exist_ok=True)
                pathlib.Path(keep, f"{seed}.log").write_text((pathlib.Path(place) / "daemon.log").read_text())
                pathlib.Path(keep, f"{seed}.ndjson").write_bytes(urllib.request.urlopen(f"{base}/$peer/dump?history=1").read())
                pathlib.Path(keep, f"{seed}.requests").write_bytes(urllib.request.urlopen(f"{base}/$peer/log?kind=request").read())
            return history, faults
        finally:
            history.daemon.stop()


def main():
    options = argparse.ArgumentParser(description=__doc__)
    options.add_argument("--count", type=int, default=300)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--keep", help="folder for the daemon's log and every version in the record, of histories that broke something")
    chosen = options.parse_args()
    broken, edits, disturbances, begun = 0, 0, 0, time.time()
    with peer() as base:
        for seed in range(chosen.seed, chosen.seed + chosen.count):
            history, faults = one(seed, base, chosen.keep)
            edits += len(history.marks)
            disturbances += history.faults
            if faults:
                broken += 1
                print("\n".join([*history.log, *("  WRONG: " + fault for fault in faults)]), flush=True)
    print(f"{chosen.count} histories in {time.time() - begun:.0f} s: {disturbances} disturbances of the record, {edits} edits by people, {broken} histories broke something")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
