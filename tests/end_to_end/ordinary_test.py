"""A record as hospitals have them: times with an offset, types that it does not know or does not show us, deletions that come late, lists on shares that hang.
All of it while nothing is pushed; the plan must be that of a daemon that was told everything."""
import json
import os
import pathlib
import tempfile
import threading
import time
import unittest

from support import Daemon, clara, explained, look_again, peer, put, request

ODD = {"DeviceUseStatement": 404, "Consent": 403, "QuestionnaireResponse": 401}


def told(steps, at):
    with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
        daemon.move_clock(at)
        for step in steps:
            daemon.put(step.resource)
        daemon.settle()
        return explained(daemon)


def configured(place, base, more, extra=""):
    daemon = Daemon(place, record=base, look_seconds=0, extra=extra)
    file = daemon.place / "aftersheath.toml"
    file.write_text(file.read_text().replace("look_seconds = 0", f"look_seconds = 0\n{more}"))
    return daemon


class Ordinary(unittest.TestCase):
    def test_offsets_and_types_that_are_not_answered(self):
        """After a quiet while the mark is the newest time that the record wrote, with its offset."""
        steps, at = clara(), clara()[-1].at
        with tempfile.TemporaryDirectory() as place, peer("--personality", f"ordinary={json.dumps({'answers': ODD})}") as base, configured(place, base, "horizon_seconds = 10") as daemon:
            daemon.move_clock(at)
            for step in steps[:-6]:
                put(base, step.resource)
            look_again(daemon)
            time.sleep(12)
            look_again(daemon)
            for step in steps[-6:]:
                put(base, step.resource)
            status = look_again(daemon)
            looking = status["record"]["looking"]
            self.assertEqual(explained(daemon), told(steps, at))
            self.assertEqual(looking["procedures"], "changed")
            self.assertEqual(looking["otherWays"], [])
            self.assertEqual(looking["notSearchable"], ["DeviceUseStatement"])
            self.assertIsNotNone(looking["lastWholeRound"])
            # One chart's types that are closed to us are said; nothing else is.
            self.assertTrue(all("withholds 2 searches" in alarm for alarm in status["alarms"]), status["alarms"])
            asked = status["events"]["received"]
            # The night finds what was deleted, whatever is not shown.
            gone = next(s.resource for s in steps if s.resource["id"] == "clara-weight-1")
            self.assertEqual(request("DELETE", f"{base}/Observation/{gone['id']}")[0], 204)
            daemon.move_clock(at.replace(hour=23, minute=59))
            look_again(daemon)
            night = at.replace(day=at.day + 1, hour=3, minute=30)
            daemon.move_clock(night)
            status = look_again(daemon)
            self.assertEqual(status["record"]["looking"]["compared"]["deleted"], 1, status["record"]["looking"])
            self.assertLess(status["events"]["received"] - asked, 60)

    def test_a_deletion_that_came_late_is_mended_from_what_the_record_shows(self):
        steps, at = clara(), clara()[-1].at
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            for step in steps:
                put(base, step.resource)
            daemon.move_clock(at)
            look_again(daemon)
            before = explained(daemon)
            self.assertIn(request("DELETE", f"{daemon.public}/fhir/Observation/clara-weight-1")[0], (200, 204))
            for _ in range(100):  # its own address is asked, at once
                daemon.settle()
                if explained(daemon) == before:
                    break
                time.sleep(0.05)
            self.assertEqual(explained(daemon), before)
            self.assertEqual(request("DELETE", f"{base}/Observation/clara-weight-1")[0], 204)
            self.assertIn(request("DELETE", f"{daemon.public}/fhir/Observation/clara-weight-1")[0], (200, 204))
            daemon.settle()
            gone = explained(daemon)
            self.assertNotEqual(gone, before)
            look_again(daemon)
            self.assertEqual(explained(daemon), gone, "a deletion that the record confirms stands")
            events = look_again(daemon)["events"]["received"]
            self.assertEqual(look_again(daemon)["events"]["received"], events, "and not again each time")

    def test_a_roster_on_a_share_that_hangs_stops_nobody(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", "narrow-search") as base:
            os.mkdir(pathlib.Path(place, "share"))
            roster = pathlib.Path(place, "roster.txt")
            daemon = configured(place, base, "", extra=f'[roster]\nfile = "{roster}"')
            with daemon:
                os.mkfifo(roster)  # no regular file, and one that is never written
                look = threading.Thread(target=look_again, args=(daemon,), daemon=True)
                look.start()
                began = time.monotonic()
                for step in clara()[:6]:
                    daemon.put(step.resource)
                self.assertLess(time.monotonic() - began, 10)
                look.join(30)
                self.assertFalse(look.is_alive())
                self.assertTrue(any("it is no file" in alarm for alarm in daemon.status()["alarms"]), daemon.status()["alarms"])

    def test_looking_again_and_again_does_not_starve_the_roster(self):
        steps, at = clara(), clara()[-1].at
        with tempfile.TemporaryDirectory() as place, peer("--personality", "narrow-search") as base, configured(place, base, "", extra='[roster]\nlists = "Group/laboratory"') as daemon:
            daemon.move_clock(at)
            for step in steps:
                put(base, step.resource)
            stop = threading.Event()

            def knock():
                while not stop.is_set():
                    request("POST", f"{daemon.public}/fhir/hook/invented/again")
                    time.sleep(0.05)
            thread = threading.Thread(target=knock, daemon=True)
            thread.start()
            try:
                put(base, {"resourceType": "Group", "id": "laboratory", "type": "person", "actual": True, "member": [{"entity": {"reference": "Patient/clara"}}]})
                ends = time.monotonic() + 60
                while time.monotonic() < ends and request("GET", f"{daemon.admin}/explain?procedure=Procedure/clara-case")[0] != 200:
                    time.sleep(0.5)
                self.assertEqual(request("GET", f"{daemon.admin}/explain?procedure=Procedure/clara-case")[0], 200)
            finally:
                stop.set()
                thread.join()


if __name__ == "__main__":
    unittest.main(verbosity=2)
