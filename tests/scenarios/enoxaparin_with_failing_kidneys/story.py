"""Enoxaparin under the skin this morning, creatinine clearance under 30: the clock alone never opens the gate (invented)."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-03", 1)


def steps():
    p = Patient(DAY, "ewald", "Dichtung", "Ewald", "1941-05-20", "male")
    rows = [*arrival(p, p.procedure("12:00", "12:50", "right", 6), "13:05", creatinine=2.9, weight=66),
            ("13:06", "enoxaparin 60 mg under the skin at 07:00 is charted", [p.dose("enoxaparin", "07:00", 60, "mg", ("34206005", "Subcutaneous route"))]),
            ("13:07", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "13:07")]),
            ("13:10", "pressure 132/70", watch(p, "13:10", 132, 70, 66)),
            ("16:00", "pressure 128/71", watch(p, "16:00", 128, 71, 68))]
    yield from told(DAY, rows)
