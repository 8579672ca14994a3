"""An artery on the right and a vein on the left: the patient gets up when the later one allows (invented)."""
from scenario import FEMORAL, SNOMED, BASE, UCUM, Day, Patient, arrival, told

DAY = Day("2026-03-07", 1)


def vein(p):
    code, display = FEMORAL["vein"]
    second = p.procedure("09:00", "10:20", "left", 8, ("41976001", "Cardiac catheterization"), ident="ines-vein", partOf=[{"reference": "Procedure/ines-case"}])
    second["bodySite"] = [{"coding": [{"system": SNOMED, "code": code, "display": display}, {"system": SNOMED, "code": "7771000", "display": "Left"}]}]
    second["identifier"] = [{"system": "https://hospital.example/procedure", "value": "PROC-INES-VEIN"}]
    return second


def of_site(resource, site):
    resource["partOf"] = [{"reference": f"Procedure/{site}"}]
    return resource


def right(resource):
    """Says which groin: with two sites an event without a side belongs to nobody."""
    site = {"coding": [{"system": SNOMED, "code": FEMORAL["right"][0], "display": FEMORAL["right"][1]}]}
    resource["bodySite"] = [site] if resource["resourceType"] == "Procedure" else site
    return resource


def left(resource):
    code, display = FEMORAL["vein"]
    resource["bodySite"] = {"coding": [{"system": SNOMED, "code": code, "display": display}, {"system": SNOMED, "code": "7771000", "display": "Left"}]}
    return resource


def steps():
    p = Patient(DAY, "ines", "Probe", "Ines", "1970-02-14", "female")
    rows = [*arrival(p, p.procedure("09:00", "10:20", "right", 5, ("33367005", "Coronary angiography")), "10:30"),
            ("10:31", "the vein in the left groin is charted", [vein(p)]),
            ("10:32", "told: no anticoagulant was given for the procedure", [p.statement("no-anticoagulant-given", "10:32")]),
            ("10:33", "asked: takes no blood thinner at home", [p.statement("no-home-anticoagulant", "10:33")]),
            ("10:35", "checked", [p.pressure("10:35", 118, 64), p.lab("heart-rate", "10:35", 72), right(p.check("10:35")), left(p.check("10:35"))]),
            ("10:40", "both sheaths out", [right(p.access("sheath-removed", "10:40")), right(p.access("compression-started", "10:40")),
                                           of_site(p.access("sheath-removed", "10:41"), "ines-vein"),
                                           of_site(p.access("compression-started", "10:41"), "ines-vein")]),
            ("10:58", "both dry", [right(p.access("haemostasis-confirmed", "10:56")), of_site(p.access("haemostasis-confirmed", "10:58"), "ines-vein")]),
            ("11:12", "checked", [p.pressure("11:12", 121, 66), right(p.check("11:12")), left(p.check("11:13"))])]
    yield from told(DAY, rows)
