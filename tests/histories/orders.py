"""Clinicians' orders that say otherwise than the plan, put into a story at random: bed rest of another length, the removal held back, a drug that acts on
clotting; some are changed or withdrawn later. All invented."""
import copy

STOPPED = {"ServiceRequest": "revoked", "MedicationRequest": "stopped"}


def patient_of(resource):
    if resource["resourceType"] == "Patient":
        return f"Patient/{resource['id']}"
    return resource.get("subject", resource.get("patient", resource.get("for", {})))["reference"]


def order(patient, meta, kind, shape):
    ident = f"{patient.split('/')[1]}-order-{kind}"
    base = {"id": ident, "meta": meta, "status": "active", "intent": "order", "subject": {"reference": patient}}
    if kind == "drug":
        drug = shape.choice((("67108", "enoxaparin"), ("11289", "warfarin"), ("1364430", "apixaban")))
        coding = {"system": "http://www.nlm.nih.gov/research/umls/rxnorm", "code": drug[0], "display": drug[1]}
        inpatient = {"system": "http://terminology.hl7.org/CodeSystem/medicationrequest-category", "code": "inpatient"}
        return {"resourceType": "MedicationRequest", **base, "category": [{"coding": [inpatient]}], "medicationCodeableConcept": {"coding": [coding], "text": drug[1]}}
    if kind == "bed-rest":
        return {"resourceType": "ServiceRequest", **base, "code": {"text": "bed rest"}, "quantityQuantity": hours(shape.choice((2, 8, 12)))}
    return {"resourceType": "ServiceRequest", **base, "doNotPerform": True, "code": {"coding": [{"system": "https://aftersheath.example/fhir/CodeSystem/aftercare-step", "code": "remove-sheath"}], "text": "leave the sheath in"}}


def hours(n):
    return {"value": n, "unit": "h", "system": "http://unitsofmeasure.org", "code": "h"}


def orders_in(steps, shape):
    """Puts them in place; gives the ids of the orders and how each stands at the end."""
    stands = {}
    for kind in ("drug", "bed-rest", "removal"):
        if len(steps) < 4 or shape.random() > 0.25:
            continue
        at = shape.randrange(1, len(steps) - 1)
        given = order(patient_of(steps[at].resource), steps[at].resource.get("meta", {}), kind, shape)
        steps.insert(at, type(steps[at])(steps[at].at, f"ordered: {kind} (invented)", given))
        stands[f"{given['resourceType']}/{given['id']}"] = "active"
        if shape.random() < 0.5:
            later = shape.randrange(at + 1, len(steps))
            ended = copy.deepcopy(given)
            ended["status"] = STOPPED[given["resourceType"]]
            if kind == "bed-rest" and shape.random() < 0.5:
                ended["status"], ended["quantityQuantity"] = "active", hours(10)
            steps.insert(later, type(steps[at])(steps[later].at, f"the order stands otherwise: {kind} (invented)", ended))
            stands[f"{given['resourceType']}/{given['id']}"] = ended["status"]
    return stands
