"""Random cases from a seed. Times lie on purpose exactly at, one second before and one second after the limits of the protocol."""
import random

import generate_course
import generate_drugs
from facts import AS_OF, DAY, HOUR, MINUTE


class Teller:
    """Draws the choices of one case."""

    def __init__(self, seed):
        self.random = random.Random(seed)
        self.facts = []

    def chance(self, part):
        return self.random.random() < part

    def pick(self, *choices):
        return self.random.choice(choices)

    def often(self, usual, part, *others):
        """The usual value, or with the given chance one of the others."""
        return self.random.choice(others) if self.chance(part) else usual

    def ago(self, least, most):
        """An instant on a whole minute, at least `least` and at most `most` seconds before the evaluation."""
        return AS_OF - self.random.randint(least // MINUTE, most // MINUTE) * MINUTE

    def edge(self, *limits):
        """An instant near one of the limits (ages in seconds): at it, one second before or after, or a minute."""
        return AS_OF - self.random.choice(limits) + self.random.choice((0, 0, 1, -1, MINUTE, -MINUTE))

    def tell(self, what, at, **more):
        fact = {"what": what, "at": at, **more}
        if self.chance(0.01):
            fact["error"] = True
        self.facts.append(fact)


def person(t):
    year = t.often(t.random.randint(1934, 1995), 0.05, 1925, 2010)
    day = t.often(f"{t.random.randint(1, 12):02}-{t.random.randint(1, 28):02}", 0.15, "03-02", "03-01", "03-03")
    return {"birth": t.often(f"{year}-{day}", 0.03, None), "sex": t.often(t.pick("female", "male"), 0.03, None)}


def puncture(t):
    closure = t.often("manual", 0.5, "mechanical", "device", "suture", None)
    vessel = t.often("artery", 0.25, "vein", "vein", None)
    written = t.chance(0.03)
    french = t.often(t.pick(4, 5, 6, 6, 7, 8, 9, 10), 0.1, None, 11, 14, 5.5)
    return {"side": t.often(t.pick("right", "left"), 0.04, None), "vessel": vessel,
            "french": french, "closure": closure,
            "punctures": t.often(None, 0.3, 1, 2), "quality": t.often([], 0.1, ["difficult"], ["high-stick"], ["low-stick"]),
            "size_in_text": written and french is not None, "sizes": [] if written or french is None else t.often([], 0.02, [6], [8])}


def sites(t):
    first = puncture(t)
    if not t.chance(0.12):
        return [first]
    second = puncture(t)
    first["side"] = first["side"] or "right"
    second["side"] = t.often({"right": "left", "left": "right"}[first["side"]], 0.3, first["side"])
    if second["side"] == first["side"]:
        first["vessel"], second["vessel"] = "artery", "vein"
    return [first, second]


def laboratory(t):
    """The morning's values and weight and height: any may be missing, old, at a limit or bad."""
    rows = (("platelets", (231, 50, 49, 99, 100, 30), 0.04), ("haemoglobin", (13.1, 8, 7.9, 11.1, 11.2), 0.04),
            ("creatinine", (0.9, 1.0, 1.4, 2.2, 4.1, 9), 0.05), ("weight", (80, 58, 110, 130, 47), 0.06), ("height", (170, 158, 181), 0.1))
    for test, values, missing in rows:
        if t.chance(missing):
            continue
        at = t.often(t.ago(2 * HOUR, 20 * HOUR), 0.12, t.edge(DAY, 6 * HOUR, 72 * HOUR), t.ago(DAY, 6 * DAY))
        value = values[0] if t.chance(0.6) else t.random.choice(values)
        t.tell("lab", at, test=test, value=value)
        if t.chance(0.1):
            t.tell("lab", t.ago(0, 5 * HOUR), test=test, value=value if test == "height" else t.random.choice(values))
    if t.chance(0.5):
        at = t.often(t.ago(1 * HOUR, 20 * HOUR), 0.3, t.edge(DAY, 6 * HOUR), t.ago(DAY, 6 * DAY))
        t.tell("lab", at, test="inr", value=t.often(1.0, 0.4, 1.5, 1.6, 1.8, 1.9, 2.6))


def bedside(t, near):
    """Pressure, heart rate and checks around an instant."""
    for _ in range(t.pick(1, 1, 1, 2, 3)):
        at = t.often(near - t.random.randint(0, 14) * MINUTE, 0.15, near - 15 * MINUTE, near - 15 * MINUTE - 1, near - 15 * MINUTE + 1, near - 40 * MINUTE)
        t.tell("pressure", at, systolic=t.often(t.random.randint(100, 148), 0.25, 89, 90, 149, 150, 159, 160, 171, 79), diastolic=t.often(74, 0.05, 99, 100, 110))
    if t.chance(0.15):
        at = near - t.pick(16, 20, 25, 29, 30, 31) * MINUTE + t.pick(0, 1, -1)
        t.tell("pressure", at, systolic=t.pick(160, 165, 140), diastolic=t.pick(80, 100))
    if not t.chance(0.05):
        at = t.often(near - t.random.randint(0, 14) * MINUTE, 0.15, near - 15 * MINUTE, near - 15 * MINUTE - 1, near - 40 * MINUTE)
        t.tell("lab", at, test="heart-rate", value=t.often(t.random.randint(52, 110), 0.15, 39, 40, 49, 50, 120, 121))


def check(t, at, site, bad=0.12):
    words = {t.pick("bleeding", "swelling", "pulse"): t.pick("soaked", "4 x 6 cm", "7", "2+")} if t.chance(0.03) else None
    seen = dict(bleeding=t.often("none", bad, "ooze", "bleeding", None), swelling=t.often(0, bad, 2, 4.9, 5, 10, None),
                growth=t.often(False, bad / 2, True, None), pulse=t.often("as-baseline", bad / 2, "weaker", "absent", None))
    t.tell("check", at, site=site, baseline=t.often(True, 0.08, False), words=words, **{part: None if words and part in words else value for part, value in seen.items()})


def case(seed):
    t = Teller(seed)
    start = t.ago(1 * HOUR, 10 * HOUR)
    end = t.often(min(start + t.random.randint(20, 120) * MINUTE, AS_OF - 5 * MINUTE), 0.03, None)
    told = {"patient": person(t), "index": {"start": start, "end": end, "pci": t.often(t.pick(True, False), 0.05, None)}, "sites": sites(t),
            "facts": t.facts}
    laboratory(t)
    generate_drugs.drugs(t, start)
    generate_drugs.statements(t, start)
    generate_course.course(t, told, bedside, check)
    return told
