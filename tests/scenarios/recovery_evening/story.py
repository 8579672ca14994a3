"""An evening in the recovery bay (invented). See story.md."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-02", 1)
ANGIOGRAPHY = ("33367005", "Coronary angiography")


def anna():
    p = Patient(DAY, "anna", "Testfall", "Anna", "1958-04-11", "female")
    yield from arrival(p, p.procedure("13:00", "14:05", "right", 6), "14:20", height=168)
    yield "14:22", "heparin 8000 units given at 13:10 is charted", [p.dose("heparin", "13:10", 8000, "[iU]")]
    yield "14:25", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "14:25")]
    yield "14:30", "ACT 290 s, drawn 14:15", [p.act("14:15", 290)]
    yield "14:31", "pressure 138/76, pulse 72, groin and foot as they should be", watch(p, "14:30", 138, 76, 72)
    yield "16:35", "ACT 176 s, drawn 16:30: not yet", [p.act("16:30", 176)]
    yield "18:34", "ACT 141 s, drawn 18:30: under the limit", [p.act("18:30", 141)]
    yield "18:36", "pressure 134/74, pulse 70, groin and foot checked", watch(p, "18:35", 134, 74, 70)
    yield "18:41", "sheath out and pressure on at 18:40", [p.access("sheath-removed", "18:40"), p.access("compression-started", "18:40")]
    yield "19:02", "groin dry, hands off at 19:01", [p.access("haemostasis-confirmed", "19:01")]
    for at in ("19:16", "19:31", "19:46", "20:01"):
        yield at, f"checked at {at}: dry, soft, pulses as before", [p.check(at)]
    yield "20:02", "pressure 139/80", watch(p, "20:01", 139, 80, 71)[:2]
    yield "20:31", "pressure 166/88 at 20:30", watch(p, "20:30", 166, 88, 78)


def bernd():
    p = Patient(DAY, "bernd", "Beispiel", "Bernd", "1949-09-23", "male")
    yield from arrival(p, p.procedure("10:30", "11:50", "left", 7), "14:10", 188, 14.2, 1.1, 1.1, 86, 179, "07:40")
    yield "14:12", "heparin 9000 units given at 10:45 is charted", [p.dose("heparin", "10:45", 9000, "[iU]")]
    yield "14:13", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "14:13")]
    yield "16:32", "ACT 138 s, drawn 16:28", [p.act("16:28", 138)]
    yield "16:36", "pressure 128/70, pulse 64, groin and foot checked", watch(p, "16:35", 128, 70, 64)
    yield "16:46", "sheath out and pressure on at 16:45", [p.access("sheath-removed", "16:45"), p.access("compression-started", "16:45")]
    yield "17:13", "groin dry, hands off at 17:12", [p.access("haemostasis-confirmed", "17:12")]
    for at in ("17:27", "17:42", "17:57", "18:12", "18:42"):
        yield at, f"checked at {at}: dry, soft, pulses as before", [p.check(at)]
    yield "19:06", "dressing wet at 19:05: it bleeds again, pressure on", [p.check("19:05", bleeding="bleeding"), p.access("rebleed", "19:05"),
                                                                          p.access("compression-started", "19:05")]
    yield "19:41", "dry again, hands off at 19:40", [p.access("haemostasis-confirmed", "19:40")]
    for at in ("19:55", "20:10"):
        yield at, f"checked at {at}: dry, soft, pulses as before", [p.check(at)]


def clara():
    p = Patient(DAY, "clara", "Muster", "Clara", "1971-12-02", "female")
    unsized = p.procedure("17:10", "17:40", "right", None, ANGIOGRAPHY)
    yield from arrival(p, unsized, "17:55", 260, 12.8, 1.0, 0.8, 63, 165, "12:00")
    yield "17:58", "told: no anticoagulant was given for the procedure", [p.statement("no-anticoagulant-given", "17:58")]
    yield "17:59", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "17:59")]
    yield "18:02", "pressure 121/69, pulse 66, groin and foot checked", watch(p, "18:00", 121, 69, 66)
    sized = p.procedure("17:10", "17:40", "right", 5, ANGIOGRAPHY)
    yield "19:21", "the nurse reads 5 F off the hub and it is recorded", [sized]
    yield "19:25", "pressure 124/70, pulse 68, groin and foot checked", watch(p, "19:24", 124, 70, 68)
    yield "19:31", "sheath out and pressure on at 19:30", [p.access("sheath-removed", "19:30"), p.access("compression-started", "19:30")]
    yield "19:47", "groin dry, hands off at 19:46", [p.access("haemostasis-confirmed", "19:46")]
    for at in ("20:01", "20:16"):
        yield at, f"checked at {at}: dry, soft, pulses as before", [p.check(at)]


def steps():
    named = [(at, f"{name}: {tell}", resources) for name, story in (("Anna", anna()), ("Bernd", bernd()), ("Clara", clara()))
             for at, tell, resources in story]
    yield from told(DAY, named)
