#!/usr/bin/env python3
"""A printer for the tests: the distribution's ippeveprinter on loopback, with trays to empty, jams, and paper that can be counted.

From Python: with Printer(folder) as printer. From elsewhere: printer.py FOLDER [PORT] prints "LISTEN <port>", takes one command a line on standard
input (paper SIZE SHEETS, mood WORD, stop, start, freeze, thaw), answers "ok" to each, and ends with its input.
ippeveprinter wants a D-Bus, even with nothing to announce; a private one does.
"""
import os
import pathlib
import re
import signal
import socket
import subprocess
import sys
import time
import urllib.parse
import urllib.request

# What happens inside the printer: mood "jam" until the mood changes, "abort", or the sheet lies in the tray.
INSIDE = r"""#!/bin/sh
cd "$(dirname "$0")"
mood=$(cat mood)
if [ "$mood" = jam ]; then
  echo 'STATE: +media-jam-error' >&2
  while [ "$(cat mood)" = jam ]; do sleep 0.05; done
  echo 'STATE: -media-jam-error' >&2
  mood=$(cat mood)
fi
[ "$mood" = drop ] && exit 1
[ "$mood" = abort ] && exit 1
# a job that was cancelled while it waited does not come out
ipptool -tv -d "id=$IPP_JOB_ID" "$(cat uri)" job.test | grep -q 'job-state (enum) = .*cancel\|processing-to-stop-point' && exit 0
n=$(ls tray | wc -l)
cp "$1" "tray/$(printf %03d $n)-$IPP_JOB_NAME.pdf"
"""

JOB = """{ OPERATION Get-Job-Attributes
GROUP operation-attributes-tag
ATTR charset attributes-charset utf-8
ATTR naturalLanguage attributes-natural-language en
ATTR uri printer-uri $uri
ATTR integer job-id $id
ATTR name requesting-user-name inside
ATTR keyword requested-attributes job-state,job-state-reasons
}
"""


def free_port():
    with socket.socket() as s:
        s.bind(("127.0.0.1", 0))
        return s.getsockname()[1]


class Printer:
    def __init__(self, folder, port=0, name="Test printer, invented", paper="iso_a4_210x297mm"):
        self.folder, self.port, self.name, self.size = pathlib.Path(folder).absolute(), port or free_port(), name, paper
        for part in ("spool", "tray", "keys"):
            (self.folder / part).mkdir(parents=True, exist_ok=True)
        self.mood("well")
        inside = self.folder / "inside.sh"
        inside.write_text(INSIDE)
        inside.chmod(0o755)
        (self.folder / "job.test").write_text(JOB)
        (self.folder / "uri").write_text(self.uri)
        self.bus = self.process = None

    uri = property(lambda self: f"ipp://localhost:{self.port}/ipp/print")

    def start(self):
        bus = f"unix:path={self.folder}/bus"
        (self.folder / "bus").unlink(missing_ok=True)
        quiet = {"stdout": subprocess.DEVNULL, "stderr": subprocess.DEVNULL}
        self.bus = subprocess.Popen(["dbus-daemon", "--session", "--nofork", "--nopidfile", f"--address={bus}"], **quiet)
        self.wait(self.bus_listens)
        program = next((p for p in ("/usr/sbin/ippeveprinter", "/usr/bin/ippeveprinter") if os.path.exists(p)), "ippeveprinter")
        self.log = open(self.folder / "log", "ab")
        self.process = subprocess.Popen(
            [program, "-vv", "-r", "off", "-n", "localhost", "-p", str(self.port), "-s", "60", "-K", str(self.folder / "keys"), "-f", "application/pdf", "-d", str(self.folder / "spool"), "-k",
             "-c", str(self.folder / "inside.sh"), self.name], env={**os.environ, "DBUS_SYSTEM_BUS_ADDRESS": bus}, stdout=self.log, stderr=self.log)
        self.wait(self.answers)
        self.paper(self.size, 250)
        return self

    def wait(self, done):
        for _ in range(500):
            if done():
                return
            time.sleep(0.02)
        raise AssertionError("the printer did not start:\n" + (self.folder / "log").read_text()[-1000:])

    def bus_listens(self):
        """Its file is there before it listens; a printer that comes in between ends without a bus."""
        with socket.socket(socket.AF_UNIX) as s:
            return s.connect_ex(str(self.folder / "bus")) == 0

    def answers(self):
        try:
            with socket.create_connection(("127.0.0.1", self.port), 1):
                return True
        except OSError:
            return False

    def paper(self, size, sheets):
        """What lies in its one tray; sheets: 250, 125, 50, 25, 5 or 0."""
        query = urllib.parse.urlencode({"size1": size, "type1": "stationery", "level1": sheets, "size3": "na_number-10_4.125x9.5in", "type3": "envelope",
                                        "level3": 25})
        urllib.request.urlopen(f"http://localhost:{self.port}/media?{query}", timeout=10).read()

    def mood(self, word):
        new = self.folder / "mood.new"
        new.write_text(word)
        new.replace(self.folder / "mood")

    def freeze(self):
        """Alive and silent."""
        self.process.send_signal(signal.SIGSTOP)

    def thaw(self):
        self.process.send_signal(signal.SIGCONT)

    def stop(self):
        self.mood("drop")  # what is inside stays inside
        for one in (self.process, self.bus):
            if one:
                one.send_signal(signal.SIGCONT)
                one.kill()
                one.wait()
        if self.process:
            self.log.close()
        self.process = self.bus = None

    def tray(self):
        """What came out, in order: paths of the PDF files, each as it was sent."""
        return sorted((self.folder / "tray").glob("*.pdf"))

    def __enter__(self):
        return self.start()

    def __exit__(self, *_):
        self.stop()


def main():
    printer = Printer(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 0).start()
    print("LISTEN", printer.port, flush=True)
    try:
        for line in sys.stdin:
            word, *rest = line.split()
            getattr(printer, word)(*rest)
            if word == "start":
                printer.mood("well")
            print("ok", flush=True)
    finally:
        printer.stop()


if __name__ == "__main__":
    main()
