"""Pressure 154 before the pull: a clinician is asked, decides, and the decision is void when the pressure gets worse (invented)."""
from scenario import BASE, Day, Patient, arrival, told, watch

DAY = Day("2026-03-13", 1)
STATEMENT = f"{BASE}/CodeSystem/access-statement"


def decision(p, at, gate, seen):
    coded = lambda what, text: {"code": {"coding": [{"system": STATEMENT, "code": what}]}, "valueString": text}
    return p._of({"resourceType": "Observation", "id": p._id("decision"), "status": "final",
                  "code": {"coding": [{"system": STATEMENT, "code": "gate-decision"}]}, "effectiveDateTime": DAY.text(at),
                  "performer": [{"display": "Duty physician (invented)"}],
                  "component": [coded("gate", gate), coded("value-seen", seen)]})


def steps():
    p = Patient(DAY, "olga", "Fiktiv", "Olga", "1956-04-21", "female")
    rows = [*arrival(p, p.procedure("09:00", "09:40", "right", 5, ("33367005", "Coronary angiography")), "09:50"),
            ("09:51", "told: no anticoagulant was given for the procedure", [p.statement("no-anticoagulant-given", "09:51")]),
            ("09:52", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "09:52")]),
            ("10:00", "pressure 154/84", watch(p, "10:00", 154, 84, 76)),
            ("10:04", "the duty physician agrees to the pull at 154", [decision(p, "10:04", "blood-pressure", "154")]),
            ("10:08", "pressure 158/86: the decision was for 154", watch(p, "10:08", 158, 86, 80))]
    yield from told(DAY, rows)
