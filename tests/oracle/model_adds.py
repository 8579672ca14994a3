"""What lengthens hold and rest (table B6): each risk with its minutes and hours, the worst row where a measured fact is unknown."""
import dataclasses

import model_course
from facts import GP_INHIBITORS, LYTICS
from model_clotting import home
from model_gates import COAGULATION, gates
from model_kidney import age_on, clearance
from model_protocol import P, exact
from model_record import Record, drawn_after


@dataclasses.dataclass
class Add:
    name: str
    hold: int = 0      # seconds
    rest: int = 0
    floor: int = 0     # of the rest


def add(name):
    table = P.table["add"][name]
    return Add(name, *(P(f"add.{name}.{field}") if field in table else 0 for field in ("hold", "rest", "rest-floor")))


def values_used(record, test, fresh, counts=lambda value: True):
    """The worst from the start to T0 is among these; if none lies there the last still fresh one before, else the first after T0."""
    values = sorted((f for f in record.of("lab") if f["test"] == test and counts(f)), key=lambda f: f["at"])
    end = model_course.course(record).t0 or record.now
    inside = [v for v in values if record.start <= v["at"] <= end]
    before = [v for v in values if record.start - fresh <= v["at"] < record.start]
    return inside or before[-1:] or [v for v in values if v["at"] > end][:1]


def platelets_low(record):
    """With a GP inhibitor a count from before its second hour tells nothing good."""
    begun = [d["at"] + P("fresh.platelets-after-gp-inhibitor-start") for d in record.doses(GP_INHIBITORS)]
    low = lambda value: exact(value["value"]) < P("add.platelets.below")
    values = values_used(record, "platelets", P("fresh.platelets"), lambda value: low(value) or not begun or value["at"] >= min(begun))
    return not values or min(exact(v["value"]) for v in values) < P("add.platelets.below")


def inr_demanded(record):
    warfarin = record.doses(("warfarin",)) or [h for h in record.of("home") if h["agent"] == "warfarin"]
    return bool(warfarin or record.doses(("vitamin k", "prothrombin complex"))) or home(record).state == "needs"


def inr_high(record):
    """After warfarin, at home or here, vitamin K or a concentrate only a value drawn since then tells anything good, and it is used for 6 h."""
    at_home = [h for h in record.of("home") if h["agent"] == "warfarin"]
    end = model_course.course(record).t0 or record.now   # the value is that of the bed at haemostasis: what is given later tells nothing of it
    taken = [d["at"] for d in record.doses(("warfarin", "vitamin k", "prothrombin complex")) if d["at"] <= end] + [h["last"] for h in at_home if h["last"] is not None]
    high = lambda value: exact(value["value"]) > P("gate.warfarin-inr.open")
    strict = taken or at_home
    values = values_used(record, "inr", P("fresh.inr-with-warfarin" if strict else "fresh.inr"), lambda value: high(value) or all(drawn_after(value["at"], at) for at in taken))
    return inr_demanded(record) if not values else max(exact(v["value"]) for v in values) > P("gate.warfarin-inr.open")


def body(record):
    """By mass index and surface (Mosteller), the worst of the weights that count; unknown is the worst row, high."""
    weights, height = values_used(record, "weight", P("fresh.weight")), record.newest("height")
    if not weights or height is None:
        return "bmi-high"
    found = {by_weight(exact(weight["value"]), exact(height["value"]) / 100) for weight in weights}
    return next((name for name in ("bmi-high", "bmi-low") if name in found), None)


def by_weight(kilograms, metres):
    index = kilograms / metres ** 2
    if index >= P("add.bmi-high.from"):
        return "bmi-high"
    small = kilograms * metres * 100 / 3600 < exact(P("add.bmi-low.surface-below")) ** 2
    return "bmi-low" if index < P("add.bmi-low.below") or small else None


def kidneys_weak(record):
    """By the worst clearance from the start to T0; a height is the same whenever it was measured. Unknown at the end is the worst row."""
    end = model_course.course(record).t0 or record.now
    heights = [f["at"] for f in record.of("lab") if f["test"] == "height"]
    case = {**record.case, "facts": [f | {"at": min(f["at"], record.start)} if f in record.of("lab") and f["test"] == "height" else f
                                     for f in record.case["facts"]]} if heights and min(heights) > record.start else record.case
    times = [f["at"] for f in record.of("lab") if f["test"] == "creatinine" and record.start <= f["at"] < end]
    found = [weak_at(case, at) for at in times] + [weak_at(case, end)]
    if found[-1] is None and end != record.now and not any(found):
        found.append(weak_at(case, record.now))
    return any(found) or found[-1] is None


def weak_at(case, at):
    """Whether the clearance is in the impaired band at an instant; None where it cannot be told."""
    kidney = clearance(Record(case, at))
    band = kidney.band(P("add.clearance.below"))
    return True if kidney.no_clock else None if band is None else band != 0


def lately(record, agents, within):
    """Running, or stopped no longer ago than that at the start: the worst from the start to T0 counts."""
    stop = record.stop(agents)
    return stop.running or stop.unknown or (stop.at is not None and record.start - stop.at <= within)


def inhibitor_lately(record):
    return lately(record, GP_INHIBITORS, P("add.gp-inhibitor.within")) or lately(record, ("abciximab",), P("add.gp-inhibitor.within-abciximab"))


def lysis_lately(record):
    return lately(record, LYTICS, P("add.fibrinolytic.within"))


def pulled_early(record):
    """A coagulation gate that was not open when the sheath came out; None where the specification leaves one open."""
    out = record.out()
    by_hand = record.site["closure"] not in ("device", "suture") or model_course.course(record).failed
    if out is None or not by_hand:   # manual and mechanical only
        return False
    states = [gate.state for name, gate in gates(record.case, record.place, out, at_pull=True).items() if name in COAGULATION]
    if any(state in ("closed", "needs", "ask") for state in states):
        return True
    return None if any(" or " in state for state in states) else False


def adds(record):
    """Every risk that applies."""
    person, site = record.case["patient"], record.site
    names = [body(record)]
    names += ["pulled-with-gate-not-open"] * bool(pulled_early(record)) + ["gp-inhibitor"] * inhibitor_lately(record)
    names += ["fibrinolytic"] * lysis_lately(record) + ["platelets"] * platelets_low(record) + ["inr"] * inr_high(record)
    names += ["age"] * (not person["birth"] or age_on(person["birth"], record.start) >= P("add.age.from"))
    names += ["clearance"] * kidneys_weak(record)
    names += ["puncture"] * ((site["punctures"] or 1) > 1 or bool(site["quality"]))
    names += ["restless"] * (record.risk("agitation") or record.risk("cough")) + ["steroids"] * record.risk("long term steroid therapy")
    names += ["vessel-wall"] * (record.risk("peripheral arterial disease") or record.risk("severe peripheral arterial disease")
                               or record.risk("femoral graft"))
    return [add(name) for name in names if name]


def combined(amounts, further, longest):
    """The largest, something for each further one, and no more than the longest."""
    amounts = [amount for amount in amounts if amount]
    return min(max(amounts) + further * (len(amounts) - 1), longest) if amounts else 0
