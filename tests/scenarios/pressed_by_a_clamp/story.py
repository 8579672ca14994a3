"""Mechanical compression: full, partial, stepped down, low hold; pressures are written by hand, never proposed (invented)."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-10", 1)


def steps():
    p = Patient(DAY, "ludwig", "Modell", "Ludwig", "1957-07-07", "male")
    rows = [*arrival(p, p.procedure("09:00", "09:50", "right", 6, closure="mechanical"), "10:00"),
            ("10:01", "heparin 7500 units given at 09:05 is charted", [p.dose("heparin", "09:05", 7500, "[iU]")]),
            ("10:02", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "10:02")]),
            ("12:35", "ACT 142 s, drawn 12:30", [p.act("12:30", 142)]),
            ("12:40", "pressure 133/75", watch(p, "12:40", 133, 75, 66)),
            ("12:46", "sheath out, clamp on at 12:45", [p.access("sheath-removed", "12:45"), p.access("compression-started", "12:45")]),
            ("13:00", "checked under the clamp", [p.check("13:00")]),
            ("14:50", "clamp off, dry at 14:48", [p.access("compression-ended", "14:48"), p.access("haemostasis-confirmed", "14:48")]),
            ("15:03", "checked", watch(p, "15:03", 128, 70, 64))]
    yield from told(DAY, rows)
