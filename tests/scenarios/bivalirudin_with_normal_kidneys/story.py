"""Bivalirudin stopped at the end of the intervention, clearance over 60: two hours, no ACT asked (invented)."""
from scenario import Day, Patient, arrival, out_and_dry, told, watch

DAY = Day("2026-03-04", 1)


def steps():
    p = Patient(DAY, "frieda", "Erfunden", "Frieda", "1966-08-02", "female")
    rows = [*arrival(p, p.procedure("09:10", "10:02", "right", 6), "10:15", creatinine=0.8, weight=74),
            ("10:16", "bivalirudin from 09:20 to 10:00 is charted", [p.dose("bivalirudin", "09:20", 130, "mg", end="10:00")]),
            ("10:20", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "10:20")]),
            ("12:00", "pressure 126/68", watch(p, "11:58", 126, 68, 61)),
            *out_and_dry(p, "12:05", "12:26"),
            *[(at, f"checked at {at}", [p.check(at)]) for at in ("12:41", "12:56", "13:11", "13:26")]]
    yield from told(DAY, rows)
