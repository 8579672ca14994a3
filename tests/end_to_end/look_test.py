"""With push switched off: the daemon asks a real third-party FHIR server for what has changed, and comes to the plans of a daemon that was told."""
import functools
import json
import tempfile
import unittest
import urllib.request

from support import Daemon, clara, explained, identity, look_again, peer, put, quiet, request, story


def heparin():
    """A dose of the laboratory's, for the patient of these tests."""
    dose = next(s.resource for s in story("recovery_evening") if s.resource["id"] == "bernd-heparin-1")
    return dict(dose, id="clara-heparin-1", subject={"reference": "Patient/clara"}, context={"reference": "Encounter/clara-stay"}, effectiveDateTime="2026-03-02T17:05:00+01:00")


class Looking(unittest.TestCase):
    @functools.cache
    def told(self):
        """What a daemon says that was sent every fact."""
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            for step in clara():
                daemon.move_clock(step.at)
                daemon.put(step.resource)
            daemon.settle()
            return explained(daemon)

    def asked(self, *personalities, rounds=1):
        """What one says that has to ask; and its last status."""
        with tempfile.TemporaryDirectory() as place, peer(*personalities) as base, Daemon(place, record=base, look_seconds=0) as daemon:
            for n, step in enumerate(clara()):
                daemon.move_clock(step.at)
                for _ in range(20):
                    if request("PUT", f"{base}/{step.resource['resourceType']}/{step.resource['id']}", step.resource)[0] in (200, 201):
                        break
                if n % 4 == 0:
                    look_again(daemon)
            for _ in range(rounds):
                status = look_again(daemon)
            dump = urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()
            identities = [identity(r) for r in map(json.loads, dump) if r["resourceType"] == "Task"]
            self.assertEqual(len(identities), len(set(identities)), "Task written twice")
            return explained(daemon), status

    def test_nothing_is_pushed(self):
        text, status = self.asked("--strict")
        self.assertEqual(status["alarms"], [])
        self.assertEqual(text, self.told())

    def test_search_results_that_are_stale_unless_asked_not_to_be(self):
        text, status = self.asked("--personality", "stale-search")
        self.assertEqual(text, self.told())

    def test_pages_by_relative_links(self):
        text, status = self.asked("--personality", 'broken-paging={"kind":"relative"}')
        self.assertEqual(status["alarms"], [])
        self.assertEqual(text, self.told())

    def test_pages_that_lead_to_another_host_are_not_followed(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", 'broken-paging={"kind":"host"}') as base, Daemon(place, record=base, look_seconds=0) as daemon:
            value = next(s.resource for s in clara() if s.resource["resourceType"] == "Observation")
            for step in clara():
                put(base, step.resource)
            for n in range(101):  # more than a page
                put(base, dict(value, id=f"value-{n}"))
            daemon.move_clock(clara()[-1].at)
            status = look_again(daemon)
            self.assertTrue(any("asked again" in a for a in status["alarms"]), status["alarms"])

    def test_where_it_is_configured_they_are_asked_for_at_the_record_itself(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", 'broken-paging={"kind":"host"}') as base:
            daemon = Daemon(place, record=base, look_seconds=0)
            text = (daemon.place / "aftersheath.toml").read_text()
            (daemon.place / "aftersheath.toml").write_text(text.replace("look_seconds = 0", 'look_seconds = 0\nnext_page = "rebase"'))
            with daemon:
                value = next(s.resource for s in clara() if s.resource["resourceType"] == "Observation")
                for step in clara():
                    put(base, step.resource)
                for n in range(101):
                    put(base, dict(value, id=f"value-{n}"))
                daemon.move_clock(clara()[-1].at)
                status = look_again(daemon)
                self.assertEqual(status["alarms"], [])
                self.assertGreater(status["events"]["received"], 101 + 10)

    def test_a_searchset_with_an_error_in_it_is_a_part(self):
        with tempfile.TemporaryDirectory() as place, peer("--personality", 'broken-paging={"kind":"outcome"}') as base, Daemon(place, record=base, look_seconds=0) as daemon:
            for step in clara():
                put(base, step.resource)
            daemon.move_clock(clara()[-1].at)
            status = look_again(daemon)
            self.assertTrue(any("an error in it" in a for a in status["alarms"]), status["alarms"])

    def test_searches_by_last_update_that_find_nothing_are_found_out(self):
        text, status = self.asked("--personality", 'narrow-search={"finds":"nothing","notAcceptable":[]}')
        self.assertEqual(text, self.told())
        self.assertIn("Observation by date", status["record"]["looking"]["otherWays"])
        self.assertEqual(status["alarms"], [])

    def test_a_death_is_heard_without_a_notification(self):
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            for step in clara():
                daemon.move_clock(step.at)
                put(base, step.resource)
            look_again(daemon)
            patient = request("GET", f"{base}/Patient/clara")[1]
            put(base, dict(patient, deceasedBoolean=True))
            look_again(daemon)
            look_again(daemon)
            plans = [r for r in map(json.loads, urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()) if r["resourceType"] == "CarePlan"]
            self.assertEqual([p["status"] for p in plans], ["revoked"])

    def test_one_patient_whose_chart_is_closed_hides_no_other(self):
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            other = [json.loads(json.dumps(s.resource).replace("clara", "berta").replace("Clara", "Berta").replace("CLARA", "BERTA")) for s in clara()]
            request("POST", f"{base}/$peer/personality", {"name": "withholds", "options": {"patient": "berta"}})
            for n, (step, twin) in enumerate(zip(clara(), other)):
                daemon.move_clock(step.at)
                put(base, step.resource)
                put(base, twin)
                if n % 4 == 0:
                    look_again(daemon)
            for _ in range(3):
                status = look_again(daemon)
            self.assertEqual(explained(daemon), self.told())
            self.assertEqual([a for a in status["alarms"] if "withholds" not in a], [])
            self.assertTrue(any("Patient/berta" in a for a in status["alarms"]), status["alarms"])
            self.assertEqual(status["record"]["looking"]["notSearchable"], [])

    def test_clocks_of_a_cluster_that_part(self):
        text, _ = self.asked("--personality", "clock-drift")
        self.assertEqual(text, self.told())

    def test_a_record_that_fails_in_bursts(self):
        text, _ = self.asked("--personality", 'unavailable={"every":11,"length":2,"methods":["GET"]}', rounds=12)
        self.assertEqual(text, self.told())

    def test_what_a_fact_refers_to_is_fetched(self):
        """Only the Procedure is sent; patient, doses, values and the rest are asked for."""
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            steps = clara()
            for step in steps:
                put(base, step.resource)
            daemon.move_clock(steps[-1].at)
            daemon.put(next(s.resource for s in steps if s.resource["id"] == "clara-case"))
            status = quiet(daemon, base)
            self.assertEqual(status["alarms"], [])
            with tempfile.TemporaryDirectory() as other, Daemon(other) as sent:
                sent.move_clock(steps[-1].at)
                for step in steps:
                    sent.put(step.resource)
                sent.settle()
                self.assertEqual(explained(daemon), explained(sent))

    def deleted(self, daemon, base, kind, one):
        self.assertEqual(request("DELETE", f"{base}/{kind}/{one}")[0], 204)
        return look_again(daemon)

    def test_a_deletion_is_heard_from_the_history_of_its_type(self):
        """Neither a search nor a notification tells of it; nothing is pushed here."""
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            steps = clara()
            for step in steps:
                put(base, step.resource)
            daemon.move_clock(steps[-1].at)
            look_again(daemon)
            look_again(daemon)
            dose = put(base, heparin())["id"]
            look_again(daemon)
            before = explained(daemon)
            status = self.deleted(daemon, base, "MedicationAdministration", dose)
            self.assertEqual(status["record"]["looking"]["deletionsFrom"], ["Procedure", "MedicationAdministration"])
            after = explained(daemon)
            self.assertNotEqual(before, after)
            with tempfile.TemporaryDirectory() as other, Daemon(other) as never:
                never.move_clock(steps[-1].at)
                for step in steps:
                    never.put(step.resource)
                never.settle()
                self.assertEqual(after, explained(never))
            # Deleted and made again between two looks: nothing is gone.
            put(base, heparin())
            look_again(daemon)
            self.assertEqual(explained(daemon), before)
            # The index Procedure itself: the plan is withdrawn, and what was written is closed.
            self.deleted(daemon, base, "Procedure", "clara-case")
            quiet(daemon, base)
            plans = [r for r in map(json.loads, urllib.request.urlopen(f"{base}/$peer/dump").read().decode().splitlines()) if r["resourceType"] == "CarePlan"]
            self.assertEqual([p["status"] for p in plans], ["revoked"] * len(plans))
            self.assertGreater(len(plans), 0)

    def test_a_history_too_long_to_read_makes_the_daemon_compare(self):
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            steps = clara()
            for step in steps:
                put(base, step.resource)
            daemon.move_clock(steps[-1].at)
            look_again(daemon)
            look_again(daemon)
            dose = put(base, heparin())
            look_again(daemon)
            other = dict(dose, id="another", subject={"reference": "Patient/nobody-here"})
            before = explained(daemon)
            self.assertEqual(request("DELETE", f"{base}/MedicationAdministration/{dose['id']}")[0], 204)
            for n in range(5100):
                put(base, dict(other, note=[{"text": f"version {n}"}]))
            status = look_again(daemon)
            self.assertEqual(status["record"]["looking"]["compared"]["deleted"], 1, status["record"]["looking"])
            self.assertEqual(status["record"]["looking"]["deletionsFrom"], ["Procedure"])
            self.assertNotEqual(before, explained(daemon))
            again = look_again(daemon)
            self.assertEqual(again["record"]["looking"]["compared"], status["record"]["looking"]["compared"], "once, not each time")

    def test_an_empty_notification_means_look(self):
        with tempfile.TemporaryDirectory() as place, peer() as base, Daemon(place, record=base, look_seconds=0) as daemon:
            for kind in ("Procedure", "Observation", "MedicationAdministration", "Task"):
                self.assertEqual(request("POST", f"{base}/Subscription", {
                    "resourceType": "Subscription", "status": "requested", "reason": "aftercare", "criteria": f"{kind}?",
                    "channel": {"type": "rest-hook", "endpoint": f"{daemon.public}/fhir/hook/r/{kind.lower()}"}})[0], 201)
            for step in clara():
                daemon.move_clock(step.at)
                put(base, step.resource)
                quiet(daemon, base)
            status = look_again(daemon)
            self.assertEqual(status["alarms"], [])
            self.assertEqual(explained(daemon), self.told())


if __name__ == "__main__":
    unittest.main(verbosity=2)
