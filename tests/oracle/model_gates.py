"""All gates of one puncture at an instant."""
import model_bedside as bedside
import model_clotting as clotting
import model_drugs as drugs
from model_gate import Gate
from model_protocol import P, exact
from model_record import Record

RULES = {"access": bedside.access, "site-status": bedside.site_status, "anticoagulant-history": clotting.history, "home-anticoagulants": clotting.home,
         "act": clotting.act, "aptt": clotting.aptt, "heparin-clock": clotting.heparin_clock, "gp-inhibitor": drugs.gp_inhibitor,
         "low-molecular-weight-heparin": drugs.low_molecular, "fondaparinux": drugs.fondaparinux, "bivalirudin": drugs.bivalirudin,
         "argatroban": drugs.argatroban, "direct-oral-anticoagulant": drugs.oral, "warfarin-inr": drugs.warfarin_inr, "fibrinolytic": drugs.fibrinolytic,
         "platelets": bedside.platelets, "blood-pressure": bedside.blood_pressure, "heart-rate": bedside.heart_rate, "haemoglobin": bedside.haemoglobin}
COAGULATION = [name for name in list(RULES)[2:] if name not in ("platelets", "blood-pressure", "heart-rate", "haemoglobin")]


def gates(case, place, now, at_pull=False):
    """{name: Gate} of those that apply."""
    record = Record(case, now, place, at_pull)
    made = {name: rule(record) for name, rule in RULES.items()}
    return {name: decided(record, name, gate) for name, gate in made.items() if gate is not None}


def seen_now(record, name):
    """(the value behind an ask, when it was measured); None where decisions are not followed here."""
    if name == "blood-pressure":
        worst = max(bedside.worst_window(record), key=lambda r: r["systolic"])
        return worst["systolic"], worst["at"]
    test = {"heart-rate": "heart-rate", "haemoglobin": "haemoglobin", "warfarin-inr": "inr"}.get(name)
    return (record.newest(test)["value"], record.newest(test)["at"]) if test else None


def decided(record, name, gate):
    """An ask answered by a recorded decision on the value as it is now: open for 60 min."""
    if gate.state != "ask":
        return gate
    seen = seen_now(record, name)
    for fact in record.of("decision"):
        ends = fact["at"] + P("case.decision-validity")
        if fact["gate"] == name and seen and fact["at"] >= seen[1] and record.now <= ends and exact(fact["seen"]) == exact(seen[0]):
            return Gate("open", expires=min(ends, gate.expires))
    return gate
