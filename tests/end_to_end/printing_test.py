"""Sheets on paper: the real daemon, the distribution's ippeveprinter on loopback, and a line between the two that can be cut.

Everything is invented and marked so. What lies in a printer's tray is what its own program was given to print, byte for byte.
"""
import contextlib
import json
import pathlib
import socket
import subprocess
import sys
import tempfile
import threading
import time
import unittest
from datetime import datetime, timedelta, timezone

from support import PROGRAM, ROOT, Daemon, peer, put, quiet, request, search

sys.path.insert(0, str(ROOT / "tests" / "print"))
from printer import Printer  # noqa: E402

A4, LETTER = "iso_a4_210x297mm", "na_letter_8.5x11in"
T = datetime(2026, 3, 2, 13, 0, tzinfo=timezone.utc)
TEST = {"security": [{"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST"}]}
PATIENT = {"resourceType": "Patient", "id": "a", "birthDate": "1958-04-11", "name": [{"family": "Testfall"}], "meta": TEST,
           "identifier": [{"system": "https://hospital.example/number", "value": "1"}, {"system": "https://hospital.example/second", "value": "2"}]}


def place(name, part_of=None):
    one = {"resourceType": "Location", "id": name, "name": f"{name}, invented"}
    return one | ({"partOf": {"reference": f"Location/{part_of}"}} if part_of else {})


def encounter(where):
    return {"resourceType": "Encounter", "id": "e", "status": "in-progress", "subject": {"reference": "Patient/a"}, "period": {"start": "2026-03-02T08:00:00Z"},
            "class": {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "IMP"}, "location": [{"location": {"reference": f"Location/{where}"}, "status": "active"}]}


def procedure(status="completed", french=6):
    return {"resourceType": "Procedure", "id": "p", "status": status, "subject": {"reference": "Patient/a"}, "encounter": {"reference": "Encounter/e"},
            "code": {"coding": [{"system": "http://snomed.info/sct", "code": "33367005", "display": "Coronary angiography"}]},
            "bodySite": [{"coding": [{"system": "http://snomed.info/sct", "code": "69833005"}]}],
            "performedPeriod": {"start": "2026-03-02T12:00:00Z", "end": "2026-03-02T12:40:00Z"},
            "extension": [{"url": "https://aftersheath.example/fhir/StructureDefinition/sheath-size",
                           "valueQuantity": {"value": french, "system": "http://unitsofmeasure.org", "code": "[Ch]"}}]}


def until(what, done, seconds=20):
    end = time.monotonic() + seconds
    while time.monotonic() < end:
        seen = done()
        if seen:
            return seen
        time.sleep(0.05)
    raise AssertionError(f"not within {seconds} s: {what}")


class Line:
    """Between daemon and printer. cut_after_job: the printer gets the whole job, its answer does not get back."""

    def __init__(self, printer):
        self.printer, self.cut_after_job, self.jobs, self.dead = printer, False, 0, False
        self.server = socket.create_server(("127.0.0.1", 0))
        self.port = self.server.getsockname()[1]
        self.uri = f"ipp://localhost:{self.port}/ipp/print"
        threading.Thread(target=self.serve, daemon=True).start()

    def serve(self):
        while True:
            try:
                client, _ = self.server.accept()
            except OSError:
                return
            if self.dead:
                client.close()
                continue
            threading.Thread(target=self.carry, args=(client,), daemon=True).start()

    def carry(self, client):
        to = socket.create_connection(("127.0.0.1", self.printer.port))
        seen = {"job": False}

        def forward():
            with contextlib.suppress(OSError):
                while data := client.recv(65536):
                    if b"application/pdf" in data and b"document-format" in data and b"job-name" in data:
                        seen["job"] = True
                        self.jobs += 1
                    to.sendall(data)
                to.shutdown(socket.SHUT_WR)

        threading.Thread(target=forward, daemon=True).start()
        with contextlib.suppress(OSError):
            while data := to.recv(65536):
                # "HTTP/1.1 100 Continue" lets the document go; the answer to the job itself is what gets lost
                if seen["job"] and self.cut_after_job and b"200 OK" in data:
                    self.dead = True
                    break
                client.sendall(data)
        for end in (client, to):
            with contextlib.suppress(OSError):
                end.shutdown(socket.SHUT_RDWR)
            end.close()

    def close(self):
        self.server.close()


def printing(queue, second="", units="", **more):
    keys = {"queue": queue, "name": "Bay printer", "rehearsal": "yes"} | ({"second_queue": second, "second_name": "Office printer"} if second else {})
    numbers = {"reroute_seconds": 1, "person_seconds": 3, "answer_seconds": 2} | more
    return "[print]\n" + "".join(f'{k} = "{v}"\n' for k, v in keys.items()) + "".join(f"{k} = {v}\n" for k, v in numbers.items()) + units


class House(unittest.TestCase):
    def setUp(self):
        self.daemon = None
        self.stack = contextlib.ExitStack()
        self.addCleanup(self.stack.close)
        self.folder = pathlib.Path(self.stack.enter_context(tempfile.TemporaryDirectory()))

    def printer(self, name="printer", **more):
        return self.stack.enter_context(Printer(self.folder / name, **more))

    def start(self, configuration, record=""):
        self.daemon = Daemon(self.folder / "daemon", record=record, clock_from=f"{T:%Y-%m-%dT%H:%M:%SZ}", extra=configuration)
        self.daemon.start()
        self.daemon.now = T
        self.addCleanup(self.daemon.stop)
        return self.daemon

    def admit(self, where="bed-4"):
        for resource in (place("house"), place("bay", "house"), place("bed-4", "bay"), place("annex", "house"), PATIENT, encounter(where), procedure()):
            self.daemon.put(resource)
        self.daemon.let_settle()
        self.daemon.settle()

    def orders(self):
        return self.daemon.status()["printing"]

    def all_printed(self, n):
        return lambda: self.orders()["printed"] == n and self.orders()["open"] == []

    def sheet(self, n):
        return (self.daemon.chart() / "Procedure-p" / f"sheet-{n}.pdf").read_bytes()

    def tasks(self):
        """The newest version of every Task that asks for paper, from the chart folder."""
        found = {}
        for path in sorted((self.daemon.chart() / "Procedure-p").glob("transaction-*.json"), key=lambda p: int(p.stem.split("-")[1])):
            for entry in json.loads(path.read_text())["entry"]:
                if entry["resource"]["resourceType"] == "Task" and entry["resource"]["code"]["coding"][0]["code"] == "print-sheet":
                    found[entry["resource"]["id"]] = entry["resource"]
        return list(found.values())

    def text(self, pdf):
        run = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True)
        self.assertEqual(run.returncode, 0)
        return run.stdout.decode()


class Printing(House):
    # --- paper

    def test_the_sheet_comes_out_as_it_is_in_the_chart(self):
        printer = self.printer()
        self.start(printing(printer.uri))
        self.admit()
        until("printed", self.all_printed(1))
        self.assertEqual([p.read_bytes() for p in printer.tray()], [self.sheet(1)])
        check = subprocess.run(["qpdf", "--check", str(printer.tray()[0])], capture_output=True)
        self.assertEqual(check.returncode, 0, check.stdout + check.stderr)
        self.assertNotIn("Testfall", printer.tray()[0].name, "a job's name is shown by printers")
        self.daemon.put(procedure(french=7))  # a fact changes: a new sheet
        self.daemon.let_settle()
        until("printed anew", self.all_printed(2))
        self.assertEqual([p.read_bytes() for p in printer.tray()], [self.sheet(1), self.sheet(2)])
        self.assertEqual(self.tasks(), [])
        self.assertEqual(self.orders()["printers"], [{"name": "Bay printer", "address": printer.uri, "state": "well"}])

    def test_check_asks_each_printer_whether_it_can(self):
        printer = self.printer()
        self.start(printing(printer.uri))
        check = lambda: subprocess.run([PROGRAM, "check", "--config", str(self.folder / "daemon/aftersheath.toml"), "--connect"], capture_output=True, text=True)
        well = check()
        self.assertEqual(well.returncode, 0, well.stderr)
        self.assertIn("Bay printer can print A4", well.stdout)
        printer.paper(LETTER, 250)
        other = check()
        self.assertEqual(other.returncode, 1)
        self.assertIn("Bay printer: it does not have the paper of the sheet", other.stderr)

    def test_a_sheet_of_before_printing_was_off_is_no_sheet_of_now(self):
        printer = self.printer()
        printer.stop()
        self.start(printing(printer.uri, person_seconds=600))
        self.admit()
        until("ordered", lambda: self.orders()["waiting"] == 1)
        self.daemon.stop()
        whole = (self.folder / "daemon/aftersheath.toml").read_text()
        (self.folder / "daemon/aftersheath.toml").write_text(whole.replace('rehearsal = "yes"', 'rehearsal = "no"'))
        self.daemon.start()
        self.daemon.put(procedure(french=7))
        self.daemon.let_settle()
        self.daemon.stop()
        printer.start()
        printer.mood("well")
        (self.folder / "daemon/aftersheath.toml").write_text(whole)
        self.daemon.start()
        until("dropped", lambda: self.orders()["superseded"] == 1)
        time.sleep(0.5)
        self.assertEqual(printer.tray(), [])

    def test_a_printer_that_counts_from_one_again_is_not_believed_about_a_job_of_before(self):
        printer = self.printer()
        printer.mood("jam")
        self.start(printing(printer.uri, person_seconds=600))
        self.admit()
        until("sent", lambda: [o for o in self.orders()["open"] if o["state"] == "sent"])
        self.daemon.kill()
        printer.stop()
        printer.start()
        printer.mood("well")
        stranger = self.folder / "stranger.pdf"
        stranger.write_bytes(b"%PDF-1.4 of somebody else, invented")
        subprocess.run(["ipptool", "-f", str(stranger), printer.uri, "print-job.test"], check=True, capture_output=True)
        until("theirs is out", lambda: len(printer.tray()) == 1)
        self.daemon.start()
        until("asked", lambda: self.orders()["asked"] == 1)
        self.assertEqual(self.orders()["printed"], 0)

    def test_nothing_is_printed_in_a_rehearsal_that_does_not_ask_for_it(self):
        printer = self.printer()
        self.start(printing(printer.uri).replace('rehearsal = "yes"', 'rehearsal = "no"'))
        self.admit()
        self.assertTrue(self.sheet(1))
        self.assertIsNone(self.orders())
        self.assertEqual(printer.tray(), [])

    def test_each_unit_has_its_printer_and_a_patient_who_moves_takes_the_sheet_along(self):
        bay, annex = self.printer("bay"), self.printer("annex")
        bay.stop()
        self.start(printing(self.printer("house").uri, units=f'[[print.unit]]\nlocation = "Location/bay"\nqueue = "{bay.uri}"\nname = "Bay"\n'
                            f'[[print.unit]]\nlocation = "Location/annex"\nqueue = "{annex.uri}"\n', person_seconds=600))
        self.admit()
        until("tried", lambda: any(p["state"] == "no-answer" for p in self.orders()["printers"]))
        self.daemon.put(encounter("annex"))
        self.daemon.let_settle()
        until("printed there", self.all_printed(1))
        bay.start()
        bay.mood("well")
        time.sleep(3)
        self.assertEqual((len(bay.tray()), len(annex.tray())), (0, 1))
        self.assertIn("annex, invented", self.text(annex.tray()[0].read_bytes()))

    def test_the_second_printer_is_taken_when_the_first_has_other_paper(self):
        first, second = self.printer("first", paper=LETTER), self.printer("second")
        self.start(printing(first.uri, second.uri))
        self.admit()
        until("printed", self.all_printed(1))
        self.assertEqual((len(first.tray()), len(second.tray())), (0, 1))
        self.assertEqual(self.tasks(), [])

    def test_a_job_is_taken_back_from_a_jammed_printer_and_does_not_come_out_there_later(self):
        first, second = self.printer("first"), self.printer("second")
        first.mood("jam")
        self.start(printing(first.uri, second.uri, person_seconds=60))
        self.admit()
        until("printed", self.all_printed(1))
        self.assertEqual(len(second.tray()), 1)
        first.mood("well")
        time.sleep(1.5)
        self.assertEqual(first.tray(), [])

    def test_a_job_that_the_printer_gives_up_is_sent_to_the_other(self):
        first, second = self.printer("first"), self.printer("second")
        first.mood("abort")
        self.start(printing(first.uri, second.uri))
        self.admit()
        until("printed", self.all_printed(1))
        self.assertEqual((len(first.tray()), len(second.tray())), (0, 1))

    # --- people

    def test_a_person_is_asked_when_no_printer_can_and_no_longer_when_one_could(self):
        printer = self.printer()
        printer.paper(A4, 0)
        self.start(printing(printer.uri))
        self.admit()
        task = until("a Task", self.tasks)[0]
        self.daemon.settle()
        self.assertTrue(task["code"]["text"].startswith("RIGHT groin"), task["code"])
        self.assertIn("Bay printer: it is out of paper", task["description"])
        self.assertEqual((task["status"], task["priority"]), ("requested", "urgent"))
        self.assertTrue(any("not on paper" in alarm for alarm in self.daemon.status()["alarms"]), self.daemon.status()["alarms"])
        self.assertEqual(len(self.tasks()), 1, "asked once")
        self.daemon.stop()  # a stop in between asks nobody twice
        self.daemon.start()
        time.sleep(1)
        self.assertEqual(len(self.tasks()), 1)
        printer.paper(A4, 250)
        until("printed", self.all_printed(1))
        until("withdrawn", lambda: self.tasks()[0]["status"] == "cancelled")
        self.assertEqual(self.tasks()[0]["statusReason"]["text"], "Recorded as done.")
        self.assertEqual([p.read_bytes() for p in printer.tray()], [self.sheet(1)])
        self.assertFalse(any("not on paper" in alarm for alarm in self.daemon.status()["alarms"]))

    def test_a_sheet_that_a_person_has_hung_up_does_not_come_out_any_more(self):
        printer = self.printer()
        printer.paper(A4, 0)
        self.start(printing(printer.uri))
        self.admit()
        task = until("a Task", self.tasks)[0]
        self.daemon.put(task | {"status": "completed", "lastModified": "2026-03-02T13:01:00Z"})
        self.daemon.settle()
        self.assertEqual(self.orders()["byHand"], 1)
        self.assertEqual(self.orders()["open"], [])
        time.sleep(1)
        printer.paper(A4, 250)
        time.sleep(2)
        self.assertEqual(printer.tray(), [])
        self.assertEqual(len(self.tasks()), 1)

    def test_a_void_sheet_goes_first_and_the_task_says_to_take_the_paper_down(self):
        printer = self.printer()
        self.start(printing(printer.uri))
        self.admit()
        until("printed", self.all_printed(1))
        printer.stop()
        self.daemon.put(procedure("entered-in-error"))
        task = until("a Task", self.tasks)[0]
        self.assertIn("RIGHT groin: take the sheet down, it is VOID", task["code"]["text"])
        self.assertIn("Bay printer: it does not answer", task["description"])
        printer.start()
        printer.mood("well")
        until("printed", self.all_printed(2))
        self.assertIn("VOID", self.text(printer.tray()[-1].read_bytes()))
        until("withdrawn", lambda: self.tasks()[0]["status"] == "cancelled")

    def test_a_newer_sheet_takes_the_place_of_one_that_waits_at_the_printer(self):
        printer = self.printer()
        printer.mood("jam")
        self.start(printing(printer.uri, person_seconds=600))
        self.admit()
        until("sent", lambda: [o for o in self.orders()["open"] if o["state"] == "sent"])
        self.daemon.put(procedure(french=7))
        self.daemon.let_settle()
        until("both known", lambda: self.orders()["ordered"] == 2)
        until("taken back", lambda: self.orders()["superseded"] == 1)
        printer.mood("well")
        until("printed", lambda: self.orders()["printed"] == 1)
        self.assertEqual([p.read_bytes() for p in printer.tray()], [self.sheet(2)])

    # --- crashes

    def test_killed_between_the_bytes_and_the_answer_the_sheet_comes_out_once(self):
        printer = self.printer()
        line = Line(printer)
        self.addCleanup(line.close)
        line.cut_after_job = True
        self.start(printing(line.uri, person_seconds=600))
        self.admit()
        until("the printer has it", lambda: len(printer.tray()) == 1)
        self.daemon.kill()
        line.dead = line.cut_after_job = False
        self.daemon.start()
        until("found", self.all_printed(1))
        time.sleep(1)
        self.assertEqual([p.read_bytes() for p in printer.tray()], [self.sheet(1)])
        self.assertEqual(line.jobs, 1)

    def test_an_answer_that_is_lost_is_looked_for_and_not_sent_again(self):
        printer = self.printer()
        line = Line(printer)
        self.addCleanup(line.close)
        line.cut_after_job = True
        self.start(printing(line.uri))
        self.admit()
        until("cut", lambda: line.dead)
        until("a Task", self.tasks)
        self.assertIn("whether the sheet came out cannot be told", self.tasks()[0]["description"])
        line.dead = line.cut_after_job = False
        until("found", self.all_printed(1))
        until("withdrawn", lambda: self.tasks()[0]["status"] == "cancelled")
        self.assertEqual(len(printer.tray()), 1)

    def test_a_printer_that_has_started_anew_cannot_tell_and_a_person_is_asked(self):
        printer = self.printer()
        line = Line(printer)
        self.addCleanup(line.close)
        line.cut_after_job = True
        self.start(printing(line.uri, person_seconds=600))
        self.admit()
        until("the printer has it", lambda: len(printer.tray()) == 1)
        self.daemon.kill()
        printer.stop()
        time.sleep(1.5)
        printer.start()
        printer.mood("well")
        line.dead = line.cut_after_job = False
        self.daemon.start()
        task = until("a Task", self.tasks)[0]
        self.assertIn("whether the sheet came out cannot be told", task["description"])
        time.sleep(1)
        self.assertEqual(len(printer.tray()), 1, "not printed again")
        self.assertEqual(self.orders()["asked"], 1)

    def test_what_a_restored_store_had_queued_is_not_sent_again_by_itself(self):
        printer = self.printer()
        printer.stop()
        self.start(printing(printer.uri, person_seconds=600))
        self.admit()
        until("ordered", lambda: self.orders()["waiting"] == 1)
        configuration, copy = str(self.folder / "daemon/aftersheath.toml"), str(self.folder / "copy.db")
        subprocess.run([PROGRAM, "backup", "--config", configuration, copy], check=True, capture_output=True)
        printer.start()
        printer.mood("well")
        until("printed after the copy was made", self.all_printed(1))
        self.daemon.kill()
        for part in (self.folder / "daemon").glob("aftersheath.db*"):
            part.unlink()
        subprocess.run([PROGRAM, "restore", "--config", configuration, copy], check=True, capture_output=True)
        self.daemon.start()
        until("asked", lambda: self.orders()["asked"] == 1)
        time.sleep(1)
        self.assertEqual(len(printer.tray()), 1)

    def test_killed_at_any_moment_it_comes_out_once(self):
        printer = self.printer()
        self.start(printing(printer.uri, person_seconds=600))
        unsure = 0
        for french in (5, 6, 7, 8):
            self.daemon.stop()
            self.daemon.start()
            for resource in (PATIENT, encounter("bed-4"), procedure(french=french)):
                self.daemon.put(resource)
            request("POST", f"{self.daemon.admin}/settle")
            self.daemon.now = max(self.daemon.now, T) + timedelta(seconds=6)
            request("POST", f"{self.daemon.admin}/clock?to={self.daemon.now:%Y-%m-%dT%H:%M:%SZ}")
            time.sleep(0.004 * (french - 5) ** 2)
            self.daemon.kill()
            self.daemon.start()
            # Out, or in a person's hands: killed just before the first byte the printer knows of nothing, and that alone proves nothing.
            until("settled", lambda: all(o["state"] == "asked" and "uncertain" in o["reason"] for o in self.orders()["open"]))
            unsure += any(o["state"] == "asked" for o in self.orders()["open"])
        papers = [p.read_bytes() for p in printer.tray()]
        self.assertEqual(len(papers), len(set(papers)), "one paper a sheet")
        printed = self.orders()["printed"]
        self.assertTrue(printed <= len(papers) <= printed + unsure, f"{len(papers)} papers, {printed} known to be out, {unsure} not known")
        self.assertGreaterEqual(len(papers) + unsure, 4)


class WithARecord(House):
    """The Task stands in the record like any other."""

    def test_the_task_is_in_the_record_until_the_sheet_is_out(self):
        printer = self.printer()
        printer.paper(A4, 0)
        base = self.stack.enter_context(peer())
        self.start(printing(printer.uri), record=base)
        for resource in (place("bed-4"), PATIENT, encounter("bed-4"), procedure()):
            put(base, resource)
            self.daemon.put(resource, "/fhir/hook/r/all")
        self.daemon.let_settle()
        quiet(self.daemon, base)
        mine = lambda: [t for t in search(base, "Task") if t["code"]["coding"][0]["code"] == "print-sheet"]
        task = until("a Task", mine)[0]
        self.assertIn("it is out of paper", task["description"])
        self.assertEqual(task["status"], "requested")
        printer.paper(A4, 250)
        until("printed", lambda: self.orders()["printed"] >= 1 and self.orders()["open"] == [])
        until("withdrawn", lambda: all(t["status"] == "cancelled" for t in mine()))
        self.assertEqual(len(mine()), 1)

    def test_a_void_sheet_of_a_record_is_printed_too(self):
        printer = self.printer()
        base = self.stack.enter_context(peer())
        self.start(printing(printer.uri), record=base)
        for resource in (place("bed-4"), PATIENT, encounter("bed-4"), procedure()):
            put(base, resource)
            self.daemon.put(resource, "/fhir/hook/r/all")
        self.daemon.let_settle()
        quiet(self.daemon, base)
        until("printed", lambda: self.orders()["printed"] >= 1 and self.orders()["open"] == [])
        before = len(printer.tray())
        printer.stop()
        self.daemon.put(put(base, procedure("entered-in-error")), "/fhir/hook/r/all")
        quiet(self.daemon, base)
        mine = lambda: [t for t in search(base, "Task") if t["code"]["coding"][0]["code"] == "print-sheet"]
        task = until("a Task", mine)[0]
        self.assertIn("take the sheet down", task["code"]["text"])
        printer.start()
        printer.mood("well")
        until("printed", lambda: len(printer.tray()) == before + 1)
        self.assertIn("VOID", self.text(printer.tray()[-1].read_bytes()))
        until("withdrawn", lambda: all(t["status"] == "cancelled" for t in mine()))


if __name__ == "__main__":
    unittest.main(verbosity=2)
