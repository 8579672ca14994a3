"""Apixaban last evening: inside the femoral hold a named clinician decides (invented)."""
from scenario import BASE, Day, Patient, arrival, told, watch

DAY = Day("2026-03-05", 1)


def home(p):
    return p._of({"resourceType": "MedicationStatement", "id": "gustav-home", "status": "active",
                  "medicationCodeableConcept": {"coding": [{"system": "http://www.whocc.no/atc", "code": "B01AF02", "display": "apixaban"}]},
                  "extension": [{"url": f"{BASE}/StructureDefinition/last-dose", "valueDateTime": "2026-03-04T20:00:00+01:00"}],
                  "effectiveDateTime": "2026-03-04T20:00:00+01:00", "dateAsserted": "2026-03-05T08:30:00+01:00"})


def steps():
    p = Patient(DAY, "gustav", "Dichter", "Gustav", "1953-01-15", "male")
    statement = home(p)
    statement["context"] = statement.pop("encounter")
    rows = [*arrival(p, p.procedure("10:00", "10:40", "left", 6), "10:55", creatinine=1.0),
            ("10:56", "heparin 7000 units given at 10:05 is charted", [p.dose("heparin", "10:05", 7000, "[iU]")]),
            ("11:00", "home drugs: apixaban, last dose yesterday at 20:00", [statement]),
            ("13:30", "ACT 139 s, drawn 13:25", [p.act("13:25", 139)]),
            ("13:31", "pressure 130/72", watch(p, "13:30", 130, 72, 66))]
    yield from told(DAY, rows)
