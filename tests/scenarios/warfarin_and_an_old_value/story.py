"""Warfarin at home, INR 1.7 from this morning: not fresh enough, then 1.4 (invented)."""
from scenario import Day, Patient, arrival, told, watch

DAY = Day("2026-03-14", 1)


def steps():
    p = Patient(DAY, "paul", "Sage", "Paul", "1944-09-09", "male")
    home = p._tagged({"resourceType": "MedicationStatement", "id": "paul-home", "status": "active", "subject": p.reference,
                      "medicationCodeableConcept": {"coding": [{"system": "http://www.whocc.no/atc", "code": "B01AA03", "display": "warfarin"}]},
                      "effectiveDateTime": "2026-03-12T18:00:00+01:00"})
    rows = [*arrival(p, p.procedure("13:00", "13:40", "right", 6, ("33367005", "Coronary angiography")), "13:50", inr=1.7, labs_at="06:30"),
            ("13:51", "told: no anticoagulant was given for the procedure", [p.statement("no-anticoagulant-given", "13:51")]),
            ("13:52", "home drugs: warfarin, last on 12 March", [home]),
            ("14:00", "pressure 131/70", watch(p, "14:00", 131, 70, 62)),
            ("14:30", "INR 1.4, drawn 14:20", [p.lab("inr", "14:20", 1.4)]),
            ("14:32", "pressure 130/70", watch(p, "14:31", 130, 70, 62))]
    yield from told(DAY, rows)
