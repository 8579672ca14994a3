"""Eptifibatide runs on, platelets 84: more pressure time, more rest, a clinician asked (invented)."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-09", 1)


def steps():
    p = Patient(DAY, "klara", "Fabel", "Klara", "1948-10-10", "female")
    rows = [*arrival(p, p.procedure("08:30", "09:40", "right", 7), "09:50", platelets=84, weight=58, height=161, labs_at="07:10"),
            ("09:51", "heparin 4500 units at 08:40; eptifibatide since 08:45, still running",
             [p.dose("heparin", "08:40", 4500, "[iU]"), p.dose("eptifibatide", "08:45", 40, "mg", status="in-progress")]),
            ("09:55", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "09:55")]),
            ("12:45", "ACT 144 s, drawn 12:40", [p.act("12:40", 144)]),
            ("12:50", "platelets 81 at 12:00", [p.lab("platelets", "12:00", 81)]),
            ("12:56", "pressure 136/74", watch(p, "12:55", 136, 74, 74))]
    yield from told(DAY, rows)
