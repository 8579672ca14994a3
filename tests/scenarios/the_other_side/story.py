"""The Procedure says right, the nurse's sheath-out says left: nothing is timed until somebody settles it (invented)."""
from scenario import FEMORAL, SNOMED, Day, Patient, arrival, told, watch

DAY = Day("2026-03-08", 1)


def steps():
    p = Patient(DAY, "jonas", "Muster", "Jonas", "1959-06-06", "male")
    case = p.procedure("10:00", "10:50", "right", 6)
    left = {"bodySite": [{"coding": [{"system": SNOMED, "code": FEMORAL["left"][0], "display": FEMORAL["left"][1]}]}]}
    rows = [*arrival(p, case, "11:00"),
            ("11:01", "heparin 7000 units given at 10:05 is charted", [p.dose("heparin", "10:05", 7000, "[iU]")]),
            ("11:02", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "11:02")]),
            ("14:31", "sheath out on the left is charted", [p.access("sheath-removed", "14:30", **left)]),
            ("14:40", "corrected: it was the left groin all along", [{**case, "bodySite": left["bodySite"]}]),
            ("14:55", "checked", watch(p, "14:55", 124, 70, 66))]
    yield from told(DAY, rows)
