"""SIGKILL after every step of the evening ends in the same files, byte for byte, as an evening without a stop."""
import pathlib
import re
import shutil
import tempfile
import unittest

from support import Daemon, story


def play(daemon, steps, kill):
    for step in steps:
        daemon.move_clock(step.at)
        daemon.put(step.resource)
        if kill:  # the answer was 2xx: the event must not be lost; nothing else was waited for
            daemon.kill()
            daemon.start()
        daemon.settle()
    daemon.move_clock(steps[-1].at.replace(hour=22, minute=0))
    daemon.settle()


def files_of(chart):
    return {str(p.relative_to(chart)): p.read_bytes() for p in sorted(chart.rglob("*")) if p.is_file()}


class Kill(unittest.TestCase):
    def evening(self, place, seed, kill):
        daemon = Daemon(place)
        for part in pathlib.Path(seed).glob("aftersheath.db*"):  # the same installation: its id stands in everything written
            shutil.copy(part, place)
        daemon.start()
        try:
            play(daemon, story("recovery_evening"), kill)
        finally:
            daemon.stop()
        return files_of(daemon.chart())

    def test_after_every_step(self):
        with tempfile.TemporaryDirectory() as place:
            with Daemon(place + "/seed"):
                pass
            calm = self.evening(place + "/calm", place + "/seed", kill=False)
            killed = self.evening(place + "/killed", place + "/seed", kill=True)
        self.assertEqual(sorted(calm), sorted(killed))
        for name in calm:
            self.assertTrue(calm[name] == killed[name], f"{name} differs")
        for folder in {name.split("/")[0] for name in calm}:
            numbers = sorted(int(n) for name in calm for n in re.findall(rf"^{re.escape(folder)}/transaction-(\d+)\.json$", name))
            self.assertEqual(numbers, list(range(1, len(numbers) + 1)), f"{folder}: a gap")
        print(f"{len(calm)} files, the same after {len(story('recovery_evening'))} kills")


if __name__ == "__main__":
    unittest.main(verbosity=2)
