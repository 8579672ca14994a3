"""The numbers of a protocol file, exact; times in seconds. The rules that use them are the oracle's own."""
import fractions
import pathlib
import tomllib

SECONDS = {"min": 60, "h": 3600, "d": 86400}
FILE = pathlib.Path(__file__).resolve().parents[2] / "profiles" / "protocol" / "cautious.toml"


def exact(number):
    """A decimal as it was written, without rounding."""
    return fractions.Fraction(str(number))


class Protocol:
    def __init__(self, path=FILE):
        with open(path, "rb") as file:
            self.table = tomllib.load(file, parse_float=exact)

    def __call__(self, name):
        """`gate.act.limit` -> its value; durations in seconds."""
        entry = self.table
        for part in name.split("."):
            entry = entry[part]
        return entry["value"] * SECONDS.get(entry["unit"], 1)

    def steps(self, name):
        """A series of checks: [(how many, seconds between them)]; 0 is without end."""
        return [(count, minutes * 60) for count, minutes in self.table["watch"][name]["steps"]]


P = Protocol()
