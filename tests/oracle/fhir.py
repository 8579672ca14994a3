"""A case -> FHIR R4 resources, as the outer contract says facts arrive by default. Every patient is invented and carries the HTEST label."""
from facts import AS_OF, MINUTE, text

BASE = "https://aftersheath.example/fhir"
LOINC, SNOMED, UCUM, RXNORM = "http://loinc.org", "http://snomed.info/sct", "http://unitsofmeasure.org", "http://www.nlm.nih.gov/research/umls/rxnorm"
HTEST = {"system": "http://terminology.hl7.org/CodeSystem/v3-ActReason", "code": "HTEST"}
ATC = "http://www.whocc.no/atc"
ATC_CODES = {"heparin": "B01AB01", "enoxaparin": "B01AB05", "dalteparin": "B01AB04", "tinzaparin": "B01AB10", "fondaparinux": "B01AX05",
             "bivalirudin": "B01AE06", "argatroban": "B01AE03", "eptifibatide": "B01AC16", "tirofiban": "B01AC17", "abciximab": "B01AC13",
             "cangrelor": "B01AC25", "aspirin": "B01AC06", "clopidogrel": "B01AC04", "prasugrel": "B01AC22", "ticagrelor": "B01AC24",
             "warfarin": "B01AA03", "apixaban": "B01AF02", "rivaroxaban": "B01AF01", "edoxaban": "B01AF03", "dabigatran": "B01AE07",
             "alteplase": "B01AD02", "tenecteplase": "B01AD11", "reteplase": "B01AD07", "protamine": "V03AB14", "idarucizumab": "V03AB37",
             "andexanet alfa": "V03AB38", "vitamin k": "B02BA01", "prothrombin complex": "B02BD01", "danaparoid": "B01AB09"}
LABS = {"act": ("3184-9", "s"), "aptt": ("14979-9", "s"), "inr": ("6301-6", "{INR}"), "platelets": ("777-3", "10*9/L"),
        "haemoglobin": ("718-7", "g/dL"), "creatinine": ("2160-0", "mg/dL"), "weight": ("29463-7", "kg"), "height": ("8302-2", "cm"),
        "heart-rate": ("8867-4", "/min"), "fibrinogen": ("3255-7", "g/L"), "alt": ("1742-6", "U/L"), "ast": ("1920-8", "U/L")}
ROUTES = {"iv": ("47625008", "Intravenous route"), "sc": ("34206005", "Subcutaneous route")}
ARTERY = {"right": "69833005", "left": "113270003", None: "7657000"}
LATERALITY = {"left": "7771000", "right": "24028007"}
PURPOSES = {True: ("415070008", "Percutaneous coronary intervention"), False: ("33367005", "Coronary angiography"),
            None: (None, "catheter ablation")}


def coding(system, code):
    return {"coding": [{"system": system, "code": code}]}


def quantity(value, unit, comparator=None):
    return {"value": value, "unit": unit, "system": UCUM, "code": unit, **({"comparator": comparator} if comparator else {})}


def extension(name, **value):
    return {"url": f"{BASE}/StructureDefinition/{name}", **value}


def body_site(site):
    """Vessel and side as codes, or the side as text; what is not recorded is left out. None when nothing is recorded."""
    if site["vessel"] is None:
        return {"text": f"{site['side']} groin"} if site["side"] else None
    codes = [ARTERY[site["side"]]] if site["vessel"] == "artery" else ["83419000"] + ([LATERALITY[site["side"]]] if site["side"] else [])
    return {"coding": [{"system": SNOMED, "code": code} for code in codes]}


class Writer:
    """Writes one case; ids are <key>-<number of the fact>."""

    def __init__(self, key, case):
        self.key, self.case = key, case
        self.subject = {"reference": f"Patient/{key}"}

    def bundle_entries(self):
        yield self.patient()
        for number, site in enumerate(self.case["sites"]):
            yield self.puncture(number, site)
        for number, fact in enumerate(self.case["facts"]):
            resource = getattr(self, fact["what"])(fact)
            resource["id"] = f"{self.key}-{fact['what']}-{number}"
            if fact.get("error"):
                resource["status"] = "entered-in-error"
            yield self.tagged(resource)

    def tagged(self, resource):
        return {**resource, "meta": {"security": [HTEST]}}

    def patient(self):
        person = self.case["patient"]
        return self.tagged({"resourceType": "Patient", "id": self.key, "active": True,
                            "identifier": [{"system": "https://hospital.example/record-number", "value": f"TEST-{self.key}"}],
                            "name": [{"family": "Invented", "given": [self.key]}],
                            **({"gender": person["sex"]} if person["sex"] else {}), **({"birthDate": person["birth"]} if person["birth"] else {})})

    def puncture(self, number, site):
        index = self.case["index"]
        code, name = PURPOSES[index["pci"]]
        concept = {"coding": [{"system": SNOMED, "code": code}], "text": name} if code else {"text": name}
        extensions = [extension("femoral-access", valueBoolean=True)]
        for size in ([] if site["french"] is None or site["size_in_text"] else [site["french"]]) + site["sizes"]:
            extensions.append(extension("sheath-size", valueQuantity=quantity(size, "[Ch]")))
        if site["closure"]:
            extensions.append(extension("closure-method", valueCode=site["closure"]))
        if site["punctures"] is not None:
            extensions.append(extension("puncture-count", valueInteger=site["punctures"]))
        extensions += [extension("puncture-quality", valueCode=code) for code in site["quality"]]
        where = body_site(site)
        return self.tagged({
            "resourceType": "Procedure", "id": self.place(number), "status": "completed", "subject": self.subject, "code": concept, "extension": extensions,
            "performedPeriod": {"start": text(index["start"]), **({"end": text(index["end"])} if index["end"] else {})},
            **({"bodySite": [where]} if where else {}), **({"partOf": [{"reference": f"Procedure/{self.place(0)}"}]} if number else {}),
            **({"note": [{"text": f"{site['french']}F sheath"}]} if site["size_in_text"] else {})})

    def where(self, number):
        """The groin of a fact; needed only where there are two punctures."""
        where = body_site(self.case["sites"][number])
        return {"bodySite": where} if where and len(self.case["sites"]) > 1 else {}

    def place(self, number):
        return f"{self.key}-site-{number}"

    def observation(self, fact, code, **more):
        return {"resourceType": "Observation", "status": "final", "code": code, "subject": self.subject,
                "effectiveDateTime": text(fact["at"]), **more}

    def dose(self, fact):
        when = {"effectiveDateTime": text(fact["at"])}
        if fact["until"] is not None or fact["period"]:
            when = {"effectivePeriod": {"start": text(fact["at"]), **({"end": text(fact["until"])} if fact["until"] is not None else {})}}
        dosage = {"dose": quantity(fact["amount"], fact["unit"])} if fact["amount"] is not None else {}
        if fact["route"]:
            code, name = ROUTES[fact["route"]]
            dosage["route"] = {"coding": [{"system": SNOMED, "code": code, "display": name}]}
        drug = {"coding": [{"system": ATC, "code": ATC_CODES[fact["agent"]]}], "text": fact["agent"]} if fact["agent"] else {"coding": [{"system": "https://hospital.example/drugs", "code": "4711"}]}
        if fact["flush"]:
            drug = {"text": "heparin flush"}
        return {"resourceType": "MedicationAdministration", "status": fact["status"], "medicationCodeableConcept": drug, "subject": self.subject,
                **when, **({"dosage": dosage} if dosage else {})}

    def lab(self, fact):
        code, unit = LABS[fact["test"]]
        return self.observation(fact, coding(LOINC, code), valueQuantity=quantity(fact["value"], unit, fact.get("comparator")),
                                **({"device": {"display": fact["analyser"]}} if fact.get("analyser") else {}),
                                **({"bodySite": {"text": fact["from"]}} if fact.get("from") else {}))

    def pressure(self, fact):
        part = [("8480-6", fact["systolic"]), ("8462-4", fact["diastolic"])]
        return self.observation(fact, coding(LOINC, "85354-9"), component=[
            {"code": coding(LOINC, code), "valueQuantity": quantity(value, "mm[Hg]")} for code, value in part])

    def check(self, fact):
        system = f"{BASE}/CodeSystem/check-finding"
        part = lambda what, **value: {"code": coding(system, what), **value}
        parts = []
        if fact["bleeding"] is not None:
            parts.append(part("bleeding", valueCodeableConcept=coding(system, fact["bleeding"])))
        if fact["swelling"] is not None:
            parts.append(part("swelling", valueQuantity=quantity(fact["swelling"], "cm")))
        if fact["growth"] is not None:
            parts.append(part("growth", valueBoolean=fact["growth"]))
        if fact["pulse"] is not None:
            parts.append(part("foot-pulse", valueCodeableConcept=coding(system, fact["pulse"])))
        for what, words in (fact.get("words") or {}).items():   # free text, which nobody can judge
            parts.append(part("foot-pulse" if what == "pulse" else what, valueString=words))
        if fact.get("baseline"):
            parts.append(part("baseline-pulses", valueString="2+ both feet (scale 0-3)"))
        return self.observation(fact, coding(system, "site-check"), component=parts, **self.where(fact["site"]))

    def statement(self, fact):
        return self.observation(fact, coding(f"{BASE}/CodeSystem/access-statement", fact["code"]), valueBoolean=True,
                                performer=[{"display": "Duty physician (invented)"}])

    def decision(self, fact):
        system = f"{BASE}/CodeSystem/access-statement"
        parts = [{"code": coding(system, what), "valueString": fact[key]} for what, key in (("gate", "gate"), ("value-seen", "seen"))]
        return self.observation(fact, coding(system, "gate-decision"), component=parts, performer=[{"display": "Duty physician (invented)"}])

    def event(self, fact):
        where = self.where(fact["site"])
        method = [extension("closure-method", valueCode=fact["method"])] if fact.get("method") else []
        return {"resourceType": "Procedure", "status": "completed", "subject": self.subject, "performedDateTime": text(fact["at"]),
                "partOf": [{"reference": f"Procedure/{self.place(fact['site'])}"}], "code": coding(f"{BASE}/CodeSystem/access-event", fact["code"]),
                **({"extension": method} if method else {}), **({"bodySite": [where["bodySite"]]} if where else {})}

    def home(self, fact):
        last = [extension("last-dose", valueDateTime=text(fact["last"]))] if fact["last"] is not None else []
        return {"resourceType": "MedicationStatement", "status": "active", "subject": self.subject,
                "medicationCodeableConcept": coding(ATC, ATC_CODES[fact["agent"]]), "dateAsserted": text(fact["at"]),
                **({"effectiveDateTime": text(fact["last"])} if fact["last"] is not None else {}), **({"extension": last} if last else {})}

    def risk(self, fact):
        return {"resourceType": "Condition", "subject": self.subject, "code": {"text": fact["name"]},
                "clinicalStatus": coding("http://terminology.hl7.org/CodeSystem/condition-clinical", "active"), "recordedDate": text(fact["at"])}


def bundle(cases):
    """{key: case} -> one Bundle of type collection."""
    entries = [{"resource": resource} for key, case in cases.items() for resource in Writer(key, case).bundle_entries()]
    return {"resourceType": "Bundle", "type": "collection", "timestamp": text(AS_OF - MINUTE), "entry": entries}
