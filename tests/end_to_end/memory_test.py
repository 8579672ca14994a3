"""Input that is too large or too deep is refused with a reason, and memory stays under a stated limit whatever comes. MiB of the whole process at its peak."""
import http.client
import json
import os
import pathlib
import socket
import subprocess
import tempfile
import unittest

from support import PROGRAM, Daemon, request

MIB = 1 << 20
REFUSED = 48    # growth of the daemon for anything that is refused by its length or depth
TAKEN = 640     # growth for the worst body of the permitted length (64 MiB): text, tree, journal
OFFLINE = 640   # the whole `plan` command


def peak(process):
    """VmHWM in MiB."""
    for line in pathlib.Path(f"/proc/{process.pid}/status").read_text().splitlines():
        if line.startswith("VmHWM"):
            return int(line.split()[1]) / 1024
    raise AssertionError("no VmHWM")


def send_long(address, pieces, length):
    """Status of a PUT whose body comes in pieces; the daemon may answer before it has all."""
    host, port = address.removeprefix("http://").split(":")
    with socket.create_connection((host, int(port)), timeout=60) as line:
        line.sendall(f"POST /fhir HTTP/1.1\r\nHost: x\r\nContent-Type: application/fhir+json\r\nContent-Length: {length}\r\n\r\n".encode())
        try:
            for piece in pieces:
                line.sendall(piece)
        except OSError:
            pass  # it has heard enough
        answer = http.client.HTTPResponse(line)
        try:
            answer.begin()
        except (OSError, http.client.HTTPException):
            return 0  # closed before the answer could be read
        return answer.status


def pieces_of(head, middle, tail, length):
    piece = middle * (MIB // len(middle))
    yield head
    sent = len(head)
    while sent + len(piece) + len(tail) <= length:
        yield piece
        sent += len(piece)
    yield middle[:1] * (length - sent - len(tail)) if len(middle) == 1 else b" " * (length - sent - len(tail))
    yield tail


HUGE = {"a Bundle of 200 MiB": (b'{"resourceType":"Bundle","type":"collection","entry":[{}', b',{"resource":{"resourceType":"Patient","id":"a"}}', b"]}", 200 * MIB),
        "a text of 100 MiB": (b'{"resourceType":"Patient","id":"', b"a", b'"}', 100 * MIB)}
DEEP = b'{"resourceType":"Patient","extension":' + b"[" * 10_000 + b"]" * 10_000 + b"}"
WORST = {"one text": (b'{"resourceType":"Patient","id":"a","language":"', b"a", b'"}', 200), "small values": (b'{"resourceType":"Bundle","type":"collection","entry":[0', b",[[]]", b"]}", 413),
         "members": (b'{"resourceType":"Patient","id":"a"', b',"a":0', b"}", 413), "long entries": (b'{"resourceType":"Bundle","type":"collection","entry":[{}', b',{"resource":{"resourceType":"Observation","status":"' + b"x" * 4000 + b'"}}', b"]}", 200)}


class Memory(unittest.TestCase):
    def test_the_intake_refuses_and_does_not_grow(self):
        with tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
            request("PUT", f"{daemon.public}/fhir/Patient/a", {"resourceType": "Patient", "id": "a"})
            idle = peak(daemon.process)
            for name, (head, middle, tail, length) in HUGE.items():
                with self.subTest(name):
                    self.assertIn(send_long(daemon.public, pieces_of(head, middle, tail, length), length), (413, 0))
            status, outcome = request("POST", f"{daemon.public}/fhir/Patient", DEEP)
            self.assertEqual(status, 413, outcome)
            self.assertIn("nested deeper than", json.dumps(outcome))
            grown = peak(daemon.process) - idle
            print(f"idle {idle:.0f} MiB, refused: {grown:.0f} MiB more")
            self.assertLess(grown, REFUSED)
            self.assertEqual(request("GET", daemon.admin + "/livez")[0], 200)

    def test_the_worst_that_is_taken_stays_under_the_limit(self):
        for name, (head, middle, tail, expected) in WORST.items():
            with self.subTest(name), tempfile.TemporaryDirectory() as place, Daemon(place) as daemon:
                request("PUT", f"{daemon.public}/fhir/Patient/b", {"resourceType": "Patient", "id": "b"})
                idle = peak(daemon.process)
                body = b"".join(pieces_of(head, middle, tail, 63 * MIB))
                path = "/fhir" if b"Bundle" in head else "/fhir/Patient"
                status, outcome = request("POST", daemon.public + path, body)
                self.assertIn(status, (expected, 201 if expected == 200 else expected), outcome)
                grown = peak(daemon.process) - idle
                print(f"{name}: {status}, {grown:.0f} MiB more")
                self.assertLess(grown, TAKEN)

    def test_the_plan_command_refuses_with_a_reason(self):
        with tempfile.TemporaryDirectory() as place:
            deep = pathlib.Path(place) / "deep.json"
            deep.write_bytes(DEEP)
            files = {"depth 10,000": (deep, "nested deeper than")}
            for name, (head, middle, tail, length) in HUGE.items():
                file = pathlib.Path(place) / (name.replace(" ", "-") + ".json")
                with open(file, "wb") as out:
                    for piece in pieces_of(head, middle, tail, length):
                        out.write(piece)
                files[name] = (file, "larger than 64 MiB and no NDJSON")
            for name, (head, middle, tail, expected) in WORST.items():
                file = pathlib.Path(place) / (name.replace(" ", "-") + ".json")
                file.write_bytes(b"".join(pieces_of(head, middle, tail, 63 * MIB)))
                files[name] = (file, "more than 2000000 values" if expected == 413 else "")
            for name, (file, said) in files.items():
                with self.subTest(name):
                    with open(pathlib.Path(place) / "said", "w+b") as out:
                        child = subprocess.Popen([PROGRAM, "plan", "--as-of", "2026-03-02T14:00:00Z", "--out", place + "/out", str(file)], stdout=out, stderr=out)
                        _, status, used = os.wait4(child.pid, 0)
                        child.returncode = os.waitstatus_to_exitcode(status)
                        out.seek(0)
                        text = out.read().decode(errors="replace")
                    print(f"plan, {name}: exit {child.returncode}, peak {used.ru_maxrss / 1024:.0f} MiB")
                    self.assertEqual(child.returncode, 2 if said else 0, text[:500])
                    self.assertIn(said, text)
                    self.assertLess(used.ru_maxrss / 1024, OFFLINE)


if __name__ == "__main__":
    unittest.main()
