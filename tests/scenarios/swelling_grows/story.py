"""A swelling of 3 cm becomes 6 cm: the clock is void, a clinician is called at once (invented)."""
from scenario import Day, Patient, arrival, out_and_dry, told, watch

DAY = Day("2026-03-11", 1)


def steps():
    p = Patient(DAY, "marta", "Beispiel", "Marta", "1950-12-12", "female")
    rows = [*arrival(p, p.procedure("09:00", "09:40", "left", 6, ("33367005", "Coronary angiography")), "09:50"),
            ("09:51", "told: no anticoagulant was given for the procedure", [p.statement("no-anticoagulant-given", "09:51")]),
            ("09:52", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "09:52")]),
            ("09:55", "checked", watch(p, "09:55", 138, 78, 76)),
            *out_and_dry(p, "10:00", "10:21"),
            ("10:36", "3 cm of soft swelling", watch(p, "10:36", 136, 76, 78, swelling=3)),
            ("10:51", "6 cm and growing", watch(p, "10:51", 122, 70, 96, swelling=6, growth=True)),
            ("11:20", "pressed again, dry at 11:19", [p.access("compression-started", "10:53"), p.access("haemostasis-confirmed", "11:19")])]
    yield from told(DAY, rows)
