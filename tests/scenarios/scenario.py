"""Words for writing a scenario: invented patients, FHIR R4 resources, and the moment at which each reaches the service.

A story is a module with `steps()`, which yields Step in order of time. Every patient is invented and carries the HTEST label.
All times are given as "HH:MM" (or "HH:MM:SS") local time of the story's day, with an offset that never changes within a story.
"""
import copy
import dataclasses
import datetime
import json

BASE = "https://aftersheath.example/fhir"
LOINC, SNOMED, UCUM, RXNORM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org", "http://www.nlm.nih.gov/research/umls/rxnorm"
HTEST = {"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST", "display": "test health data"}
FEMORAL = {"right": ("69833005", "Structure of right femoral artery"), "left": ("113270003", "Structure of left femoral artery"),
           "vein": ("83419000", "Structure of femoral vein"), "unsided": ("7657000", "Structure of femoral artery")}
DRUGS = {"heparin": "5224", "enoxaparin": "67108", "bivalirudin": "60819", "eptifibatide": "75635", "apixaban": "1364430", "warfarin": "11289",
         "aspirin": "1191", "clopidogrel": "32968", "argatroban": "15202", "dabigatran etexilate": "1037042", "alteplase": "8410"}
LABS = {"act": ("3184-9", "s"), "aptt": ("14979-9", "s"), "inr": ("6301-6", "{INR}"), "platelets": ("777-3", "10*9/L"), "haemoglobin": ("718-7", "g/dL"),
        "creatinine": ("2160-0", "mg/dL"), "weight": ("29463-7", "kg"), "height": ("8302-2", "cm"), "heart-rate": ("8867-4", "/min"),
        "fibrinogen": ("3255-7", "g/L")}


@dataclasses.dataclass
class Step:
    at: datetime.datetime       # when it reaches the service
    tell: str                   # one line for people
    resource: dict              # PUT under its id

    def line(self):
        return json.dumps({"at": self.at.isoformat(), "tell": self.tell, "resource": self.resource}, ensure_ascii=False)


class Day:
    """A day in one place: turns "18:05" into an instant. "+1 00:10" is the next day."""

    def __init__(self, date="2026-03-02", offset_hours=1):
        self.zone = datetime.timezone(datetime.timedelta(hours=offset_hours))
        self.midnight = datetime.datetime.fromisoformat(date).replace(tzinfo=self.zone)

    def at(self, text):
        days = 0
        if text.startswith("+"):
            plus, text = text.split(" ")
            days = int(plus)
        parts = [int(p) for p in text.split(":")] + [0]
        return self.midnight + datetime.timedelta(days=days, hours=parts[0], minutes=parts[1], seconds=parts[2])

    def text(self, text):
        return self.at(text).isoformat()


class Patient:
    """One invented patient and everything recorded of the stay. Ids are <key>-<what>."""

    def __init__(self, day, key, family, given, born, sex, place="Recovery bay (invented)"):
        self.day, self.key, self.count, self.place = day, key, {}, place
        self.reference = {"reference": f"Patient/{key}"}
        self.patient = self._tagged({
            "resourceType": "Patient", "id": key, "active": True,
            "identifier": [{"system": "https://hospital.example/record-number", "value": f"TEST-{key.upper()}"},
                           {"system": "https://hospital.example/admission", "value": f"ADM-{key.upper()}"}],
            "name": [{"use": "official", "family": family, "given": [given]}], "gender": sex, "birthDate": born})
        self.encounter = self._tagged({
            "resourceType": "Encounter", "id": f"{key}-stay", "status": "in-progress",
            "class": {"system": "http://terminology.hl7.org/CodeSystem/v3-ActCode", "code": "IMP"}, "subject": self.reference,
            "period": {"start": day.text("07:30")}, "location": [{"location": {"reference": "Location/recovery", "display": place}}]})

    def _tagged(self, resource):
        return {**resource, "meta": {"security": [HTEST]}}

    def _id(self, what):
        self.count[what] = self.count.get(what, 0) + 1
        return f"{self.key}-{what}-{self.count[what]}"

    def _of(self, resource):
        return self._tagged({**resource, "subject": self.reference, "encounter": {"reference": f"Encounter/{self.key}-stay"}})

    def procedure(self, start, end, side, french=None, code=("415070008", "Percutaneous coronary intervention"), closure="manual", ident=None, **more):
        site = FEMORAL[side]
        extensions = [{"url": f"{BASE}/StructureDefinition/closure-method", "valueCode": closure}] if closure else []
        if french is not None:
            extensions.insert(0, {"url": f"{BASE}/StructureDefinition/sheath-size",
                                  "valueQuantity": {"value": french, "unit": "F", "system": UCUM, "code": "[Ch]"}})
        return self._of({
            "resourceType": "Procedure", "id": ident or f"{self.key}-case", **({"extension": extensions} if extensions else {}), "status": "completed",
            "identifier": [{"system": "https://hospital.example/procedure", "value": f"PROC-{self.key.upper()}"}],
            "code": {"coding": [{"system": SNOMED, "code": code[0], "display": code[1]}]},
            "performedPeriod": {"start": self.day.text(start), **({"end": self.day.text(end)} if end else {})},
            "bodySite": [{"coding": [{"system": SNOMED, "code": site[0], "display": site[1]}]}], **more})

    def access(self, kind, at, **more):
        return self._of({
            "resourceType": "Procedure", "id": self._id(kind), "status": "completed", "partOf": [{"reference": f"Procedure/{self.key}-case"}],
            "code": {"coding": [{"system": f"{BASE}/CodeSystem/access-event", "code": kind}]}, "performedDateTime": self.day.text(at), **more})

    def dose(self, drug, at, amount, unit, route=("47625008", "Intravenous route"), end=None, status="completed", **more):
        when = {"effectivePeriod": {"start": self.day.text(at), **({"end": self.day.text(end)} if end else {})}} if end is not None or status != "completed" \
            else {"effectiveDateTime": self.day.text(at)}
        resource = self._tagged({
            "resourceType": "MedicationAdministration", "id": self._id(drug.split(" ")[0]), "status": status,
            "medicationCodeableConcept": {"coding": [{"system": RXNORM, "code": DRUGS[drug], "display": drug}], "text": drug},
            "subject": self.reference, "context": {"reference": f"Encounter/{self.key}-stay"}, **when,
            "dosage": {"route": {"coding": [{"system": SNOMED, "code": route[0], "display": route[1]}]},
                       "dose": {"value": amount, "unit": unit, "system": UCUM, "code": unit}}, **more})
        return resource

    def lab(self, analyte, at, value, **more):
        code, unit = LOINC_OF(analyte)
        return self._of({
            "resourceType": "Observation", "id": self._id(analyte), "status": "final", "code": {"coding": [{"system": LOINC, "code": code}], "text": analyte},
            "effectiveDateTime": self.day.text(at), "valueQuantity": {"value": value, "unit": unit, "system": UCUM, "code": unit}, **more})

    def act(self, at, seconds):
        return self.lab("act", at, seconds, device={"display": "Bedside clotting analyser 2 (invented)"},
                        bodySite={"text": "arterial sheath"})

    def pressure(self, at, systolic, diastolic):
        part = lambda code, value: {"code": {"coding": [{"system": LOINC, "code": code}]},
                                    "valueQuantity": {"value": value, "unit": "mmHg", "system": UCUM, "code": "mm[Hg]"}}
        return self._of({
            "resourceType": "Observation", "id": self._id("pressure"), "status": "final", "code": {"coding": [{"system": LOINC, "code": "85354-9"}]},
            "effectiveDateTime": self.day.text(at), "component": [part("8480-6", systolic), part("8462-4", diastolic)]})

    def check(self, at, bleeding="none", swelling=0, growth=False, pulse="as-baseline", **more):
        finding = f"{BASE}/CodeSystem/check-finding"
        coded = lambda what, code: {"code": {"coding": [{"system": finding, "code": what}]},
                                    "valueCodeableConcept": {"coding": [{"system": finding, "code": code}]}}
        return self._of({
            "resourceType": "Observation", "id": self._id("check"), "status": "final", "code": {"coding": [{"system": finding, "code": "site-check"}]},
            "effectiveDateTime": self.day.text(at),
            "component": [coded("bleeding", bleeding),
                          {"code": {"coding": [{"system": finding, "code": "swelling"}]},
                           "valueQuantity": {"value": swelling, "unit": "cm", "system": UCUM, "code": "cm"}},
                          {"code": {"coding": [{"system": finding, "code": "growth"}]}, "valueBoolean": growth},
                          coded("foot-pulse", pulse),
                          {"code": {"coding": [{"system": finding, "code": "baseline-pulses"}]}, "valueString": "2+ both feet (scale 0-3)"}], **more})

    def statement(self, code, at):
        return self._of({
            "resourceType": "Observation", "id": self._id(code), "status": "final",
            "code": {"coding": [{"system": f"{BASE}/CodeSystem/access-statement", "code": code}]}, "effectiveDateTime": self.day.text(at),
            "valueBoolean": True})


def LOINC_OF(analyte):
    return LABS[analyte]


def told(day, rows):
    """Rows (at, tell, resources) of one patient or several -> Steps in order of time."""
    for at, tell, resources in sorted(rows, key=lambda row: day.at(row[0])):
        for number, resource in enumerate(resources):
            yield Step(day.at(at), tell if number == 0 else "", copy.deepcopy(resource))


def arrival(p, procedure, came, platelets=231, haemoglobin=13.1, inr=1.0, creatinine=0.9, weight=80, height=170, labs_at="08:10"):
    """Patient, stay, case and the morning's laboratory values; a value given as None was not measured."""
    values = {"platelets": platelets, "haemoglobin": haemoglobin, "inr": inr, "creatinine": creatinine, "weight": weight, "height": height}
    yield came, "arrives from the catheter laboratory", [p.patient, p.encounter, procedure]
    yield came, "the morning's laboratory values", [p.lab(name, labs_at, value) for name, value in values.items() if value is not None]


def watch(p, at, systolic, diastolic, rate, **check):
    """Pressure, heart rate and a complete check of groin and foot, charted at the same minute."""
    return [p.pressure(at, systolic, diastolic), p.lab("heart-rate", at, rate), p.check(at, **check)]


def out_and_dry(p, out, dry, method=None):
    """Sheath out and compression on; haemostasis later."""
    more = {"extension": [{"url": f"{BASE}/StructureDefinition/closure-method", "valueCode": method}]} if method else {}
    yield out, f"sheath out and pressure on at {out}", [p.access("sheath-removed", out), p.access("compression-started", out, **more)]
    yield dry, f"groin dry, hands off at {dry}", [p.access("haemostasis-confirmed", dry)]
