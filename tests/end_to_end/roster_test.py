"""A record that lets nobody search by _lastUpdated, nor without a patient and a category: the roster says whom to look at. And the nightly comparison."""
import datetime
import difflib
import functools
import json
import pathlib
import tempfile
import unittest
import urllib.request

from support import Daemon, clara, explained, identity, look_again, peer, put, request

NARROW = ("--personality", "narrow-search")
BEFORE = datetime.datetime(2026, 3, 2, 6, 5, tzinfo=datetime.timezone.utc)


def with_category(resource):
    """Records that want categories give every Observation one (US Core and others ask for it)."""
    if resource["resourceType"] != "Observation" or "category" in resource:
        return resource
    loinc = any(coding.get("system") == "http://loinc.org" for coding in resource["code"].get("coding", []))
    vital = any(coding.get("code") in ("8867-4", "8480-6", "8462-4", "85354-9", "29463-7", "8302-2") for coding in resource["code"].get("coding", []))
    code = "vital-signs" if vital else "laboratory" if loinc else "exam"
    return dict(resource, category=[{"coding": [{"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": code}]}])


def steps():
    return [(step.at, with_category(step.resource)) for step in clara()]


PATIENT = next(r["subject"]["reference"] for _, r in steps() if r["resourceType"] == "Procedure")


class Roster(unittest.TestCase):
    @functools.cache
    def told(self):
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            for at, resource in steps():
                daemon.move_clock(at)
                daemon.put(resource)
            daemon.settle()
            return explained(daemon)

    def asked(self, roster, before=lambda base, daemon, place: None, personalities=NARROW):
        with tempfile.TemporaryDirectory() as place, peer(*personalities) as base:
            with Daemon(place, record=base, look_seconds=0, extra=f"[roster]\n{roster}") as daemon:
                before(base, daemon, pathlib.Path(place))
                for n, (at, resource) in enumerate(steps()):
                    daemon.move_clock(at)
                    put(base, resource)
                    if n % 5 == 0:
                        look_again(daemon)
                look_again(daemon)
                status = look_again(daemon)
                dump = urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()
                tasks = [identity(r) for r in map(json.loads, dump) if r["resourceType"] == "Task"]
                self.assertEqual(len(tasks), len(set(tasks)), "Task written twice")
                self.assertTrue(tasks)
                return explained(daemon), status

    def compare(self, text, status):
        self.assertTrue(text == self.told(), "\n".join(difflib.unified_diff(self.told().splitlines(), text.splitlines(), lineterm="", n=0))[:2000])
        looking = status["record"]["looking"]
        self.assertEqual(looking["procedures"], "roster")
        self.assertEqual(looking["rosterPatients"], 1)
        self.assertIn("Observation by category: what has none is not found", looking["otherWays"])
        self.assertEqual(looking["notSearchable"], ["Device", "List", "Specimen"])
        self.assertEqual(status["alarms"], [])

    def test_a_group_of_the_record(self):
        self.compare(*self.asked('lists = "Group/laboratory"', lambda base, daemon, place: put(base, {
            "resourceType": "Group", "id": "laboratory", "type": "person", "actual": True, "member": [
                {"entity": {"reference": PATIENT}}, {"entity": {"reference": "Patient/off"}, "inactive": True}]})))

    def test_a_list_that_an_interface_sends_here(self):
        self.compare(*self.asked('lists = "List/ward"', lambda base, daemon, place: daemon.put({
            "resourceType": "List", "id": "ward", "status": "current", "mode": "working", "entry": [{"item": {"reference": PATIENT}}]})))

    def test_a_list_that_an_interface_posts_here_anew_each_time(self):
        """Known by its identifier; the last one that came counts, not the one with the last id."""
        def post(patient):
            return {"resourceType": "List", "identifier": [{"system": "urn:invented:lists", "value": "ward 7, today"}], "status": "current", "mode": "working",
                    "entry": [{"item": {"reference": patient}}]}
        def ward(base, daemon, place):
            for patient in ("Patient/somebody", "Patient/another", PATIENT):
                self.assertIn(request("POST", f"{daemon.public}/fhir/List", post(patient))[0], (200, 201))
        self.compare(*self.asked('lists = "List?identifier=urn:invented:lists|ward 7, today"', ward))

    def test_the_encounters_of_a_ward(self):
        def ward(base, daemon, place):
            put(base, {"resourceType": "Location", "id": "recovery", "name": "Recovery bay (invented)"})
            put(base, {"resourceType": "Encounter", "id": "stay-of-a-day", "status": "in-progress", "class": {"code": "IMP"},
                       "subject": {"reference": PATIENT}, "location": [{"location": {"reference": "Location/recovery"}}]})
        self.compare(*self.asked('locations = "Location/recovery"', ward))

    def test_the_appointments_of_a_laboratory(self):
        def day(base, daemon, place):
            put(base, {"resourceType": "Location", "id": "room-1", "name": "Room 1 (invented)"})
            put(base, {"resourceType": "Appointment", "id": "this-morning", "status": "booked", "start": "2026-03-02T09:00:00Z", "end": "2026-03-02T10:00:00Z",
                       "participant": [{"actor": {"reference": PATIENT}, "status": "accepted"}, {"actor": {"reference": "Location/room-1"}, "status": "accepted"}]})
        self.compare(*self.asked('appointments = "Location/room-1"', day))

    def test_a_file_with_a_reference_and_one_with_an_identifier(self):
        self.compare(*self.asked('file = "roster.txt"', lambda base, daemon, place: (place / "roster.txt").write_text(f"# today, invented\n{PATIENT}\n")))
        one = next(r for _, r in steps() if r["resourceType"] == "Patient")["identifier"][0]
        self.compare(*self.asked('file = "roster.txt"', lambda base, daemon, place: (
            put(base, next(r for _, r in steps() if r["resourceType"] == "Patient")), (place / "roster.txt").write_text(f"{one['system']}|{one['value']}\n"))))

    def test_a_roster_that_cannot_be_read_keeps_whom_it_named(self):
        with tempfile.TemporaryDirectory() as place, peer(*NARROW) as base, Daemon(place, record=base, look_seconds=0, extra='[roster]\nfile = "roster.txt"') as daemon:
            file = pathlib.Path(place) / "roster.txt"
            self.assertIn("cannot be opened", "".join(look_again(daemon)["alarms"]))
            file.write_text(f"{PATIENT}\n")
            self.assertEqual(look_again(daemon)["alarms"], [])
            for text, why in ((f"{PATIENT}\nhalf a line\n", "line 2 is neither"), (PATIENT[:-2], "its last line has no end"), ("", "names nobody any more")):
                file.write_text(text)
                status = look_again(daemon)
                self.assertIn(why, "".join(status["alarms"]))
                self.assertEqual(status["record"]["looking"]["rosterPatients"], 1)
            self.assertEqual(look_again(daemon)["record"]["looking"]["rosterPatients"], 0, "said twice: it is meant")
            file.write_bytes(b"\xef\xbb\xbf" + PATIENT.encode() + b"\r\n")
            self.assertEqual(look_again(daemon)["record"]["looking"]["rosterPatients"], 1)

    def test_without_a_roster_it_is_said_that_cases_open_only_when_sent(self):
        with tempfile.TemporaryDirectory() as place, peer(*NARROW) as base, Daemon(place, record=base, look_seconds=0) as daemon:
            look_again(daemon)
            self.assertTrue(any("[roster]" in alarm for alarm in look_again(daemon)["alarms"]))


class NightlyComparison(unittest.TestCase):
    def night(self, *personalities, spoil):
        """A day by polling, then something that polling cannot see, then the night."""
        with tempfile.TemporaryDirectory() as place, peer(*personalities) as base, Daemon(place, record=base, look_seconds=0) as daemon:
            for at, resource in steps():
                daemon.move_clock(at)
                put(base, resource)
            look_again(daemon)
            before = explained(daemon)
            spoil(base, daemon)
            self.assertEqual(look_again(daemon)["record"]["looking"]["compared"], None, "not before the night")
            daemon.move_clock(datetime.datetime(2026, 3, 3, 2, 30, tzinfo=datetime.timezone.utc))
            look_again(daemon)
            status = look_again(daemon)
            return before, explained(daemon), status

    def values(self):
        return [r for _, r in steps() if r["resourceType"] == "Observation" and r["id"].startswith("clara-weight")]

    def test_a_deletion_that_no_search_shows_is_found(self):
        value = self.values()[0]
        before, after, status = self.night(spoil=lambda base, daemon: request("DELETE", f"{base}/Observation/{value['id']}"))
        compared = status["record"]["looking"]["compared"]
        self.assertEqual((compared["day"], compared["patients"], compared["deleted"], compared["missed"], compared["hidden"]), ("2026-03-03", 1, 1, 0, 0))
        self.assertTrue(value["id"] in before and value["id"] not in after)

    def test_what_the_record_never_knew_still_counts(self):
        value = self.values()[0]
        extra = dict(value, id="sent-by-a-scale")
        _, after, status = self.night(spoil=lambda base, daemon: (daemon.put(extra), daemon.settle()))
        compared = status["record"]["looking"]["compared"]
        self.assertEqual((compared["unknownThere"], compared["deleted"]), (1, 0))
        self.assertEqual(status["alarms"], [])
        self.assertTrue("sent-by-a-scale" in after or value["id"] in after)

    def test_searches_that_hide_what_is_there_are_an_alarm(self):
        hidden = "Procedure/clara-sheath-removed-1"

        def spoil(base, daemon):
            request("POST", f"{base}/$peer/personality", {"name": "narrow-search", "options": {"needsCategory": [], "notAcceptable": [], "hides": [hidden]}})
        _, after, status = self.night(spoil=spoil)
        self.assertTrue(any(hidden in alarm for alarm in status["alarms"]), status["alarms"])
        self.assertEqual(status["record"]["looking"]["compared"]["hidden"], 1)
        self.assertIn("remove the sheath: done 19:30", after)

    def test_searches_by_category_that_hide_one_of_it_are_an_alarm(self):
        value = self.values()[0]
        vital = {"system": "http://terminology.hl7.org/CodeSystem/observation-category", "code": "vital-signs"}

        def spoil(base, daemon):
            put(base, dict(value, category=[{"coding": [vital]}]))
            look_again(daemon)
            request("POST", f"{base}/$peer/personality", {"name": "narrow-search", "options": {"needsCategory": ["Observation"], "notAcceptable": [], "hides": [f"Observation/{value['id']}"]}})
        _, after, status = self.night(spoil=spoil)
        self.assertTrue(any(value["id"] in alarm for alarm in status["alarms"]), status["alarms"])
        self.assertEqual(status["record"]["looking"]["compared"]["hidden"], 1, "what has no category is not expected of such a search")
        self.assertIn(value["id"], after)


if __name__ == "__main__":
    unittest.main(verbosity=2)
