"""Creatinine clearance after Cockcroft and Gault (Nephron 1976;16:31), with actual and with adjusted weight, the lower one."""
import dataclasses
import datetime
import fractions

from facts import UTC
from model_protocol import P, exact

F = fractions.Fraction
INCH = F(254, 100)


@dataclasses.dataclass
class Clearance:
    """value: mL/min, None when it cannot be computed. no_clock: dialysis or unstable creatinine. worse: height missing, the next worse band."""
    value: fractions.Fraction | None = None
    no_clock: bool = False
    worse: bool = False
    expires: int | None = None

    def band(self, *edges):
        """Position among bands cut by falling edges: 0 is over the first; an edge falls in the more impaired band; None is unknown."""
        if self.value is None:
            return None
        place = sum(1 for edge in edges if self.value <= edge)
        return min(place + 1, len(edges)) if self.worse else place


def age_on(birth, seconds):
    """Whole years on the day of an instant (UTC)."""
    day = datetime.datetime.fromtimestamp(seconds, UTC).date()
    born = datetime.date.fromisoformat(birth)
    return day.year - born.year - ((day.month, day.day) < (born.month, born.day))


def unstable(record):
    """Rising by 0.3 mg/dL in 48 h or by half in 7 d, newest against any earlier value."""
    newest = record.newest("creatinine")
    for earlier in record.of("lab"):
        if earlier["test"] != "creatinine" or earlier["at"] >= newest["at"]:
            continue
        rise, gap = exact(newest["value"]) - exact(earlier["value"]), newest["at"] - earlier["at"]
        if gap <= 48 * 3600 and rise >= P("fresh.creatinine-rise-48-h"):
            return True
        if gap <= 7 * 86400 and rise >= exact(earlier["value"]) * P("fresh.creatinine-rise-7-d") / 100:
            return True
    return False


def clearance(record):
    creatinine, weight, height = (record.newest(name) for name in ("creatinine", "weight", "height"))
    if record.risk("dialysis") or (creatinine and unstable(record)):
        return Clearance(no_clock=True)
    person = record.case["patient"]
    if not record.fresh(creatinine, P("fresh.creatinine")) or not record.fresh(weight, P("fresh.weight")) or not person["birth"] or not person["sex"]:
        return Clearance()
    if age_on(person["birth"], record.start) < P("case.adult-age"):
        height = None   # any adult height
    female = person["sex"] == "female"
    kilograms = exact(weight["value"])
    if height:
        ideal = (F(455, 10) if female else F(50)) + F(23, 10) * (exact(height["value"]) / INCH - 60)
        kilograms = min(kilograms, ideal + F(4, 10) * (kilograms - ideal))
    value = (140 - age_on(person["birth"], record.start)) * kilograms / (72 * exact(creatinine["value"])) * (F(85, 100) if female else 1)
    ends = min(creatinine["at"] + P("fresh.creatinine"), weight["at"] + P("fresh.weight"))
    return Clearance(value, False, height is None, ends)
