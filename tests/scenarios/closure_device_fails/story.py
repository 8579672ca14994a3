"""A closure device fails and the artery is pressed by hand: a new hold, a new haemostasis, the longer row (invented)."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-06", 1)


def steps():
    p = Patient(DAY, "helga", "Beispiel", "Helga", "1962-11-30", "female")
    rows = [*arrival(p, p.procedure("11:00", "11:45", "right", 6, closure="device"), "12:00"),
            ("12:01", "heparin 6000 units given at 11:05 is charted", [p.dose("heparin", "11:05", 6000, "[iU]")]),
            ("12:02", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "12:02")]),
            ("12:05", "the device was placed at 11:46, dry at 11:50", [p.access("sheath-removed", "11:46"), p.access("haemostasis-confirmed", "11:50")]),
            ("12:20", "it oozes and grows: the device has failed, pressed by hand from 12:20",
             [p.access("closure-failed", "12:20"), p.access("compression-started", "12:20")]),
            ("12:46", "dry, hands off at 12:46", [p.access("haemostasis-confirmed", "12:46")]),
            ("13:01", "checked", watch(p, "13:01", 124, 66, 70))]
    yield from told(DAY, rows)
