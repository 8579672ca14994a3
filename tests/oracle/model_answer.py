"""The oracle's whole answer for a case: {path: value} and the families of paths it answers for."""
import dataclasses
import fractions
import math

import model_after
import model_clotting
import model_course
import model_gates
import model_hold
import model_kidney
import model_projection
import model_removal
import model_rest
import model_scope
from facts import MINUTE, THROMBIN, text
from model_protocol import P
from model_record import Record


@dataclasses.dataclass
class Answer:
    values: dict
    families: set        # beginnings of paths; what the program says beyond `values` within them is a difference

    def put(self, family, values):
        if family.split(" ")[-1] in ("gate", "projection"):
            self.families.add(family + " ")
        self.values.update({f"{family} {name}": value for name, value in values.items()})


def gate_values(gates):
    values = {}
    for name, gate in gates.items():
        values[f"{name} state"] = gate.state
        unsure = " or " in gate.state
        values[f"{name} opensAt"] = "any" if unsure else text(gate.opens)
        values[f"{name} expiresAt"] = "any" if unsure else text(gate.expires)
    return values


def step_values(step):
    return {"status": step.status, "earliest": text(step.earliest), "expected": text(step.expected)}


def before_removal(made, case, number, now):
    record = Record(case, now, number)
    unsure = model_projection.ambiguous(record)
    step = model_removal.removal(case, number, now)
    if step:
        made.put(f"site {number} step remove-sheath", step_values(step) | ({"expected": "any"} if unsure else {}))
    crossing = model_projection.crossings(record)
    values = dict(zip(("p10", "p50", "p90"), ("any",) * 3 if unsure else map(text, crossing or (None, None, None))))
    made.put(f"site {number} projection", values)
    act = model_gates.gates(case, number, now).get("act")
    draw = model_projection.next_draw(record, crossing) if act and act.state != "open" and not model_clotting.clock_applies(record) else None
    made.put(f"site {number} projection", {"nextDraw": "any" if unsure or record.doses(THROMBIN) else text(draw)})


PARTS = {"firm": "firm-compression", "partial": "partial-compression", "light": "light-compression", "reduce": "reduce-pressure",
         "low": "low-pressure-hold"}


def minutes(seconds):
    return None if seconds is None else seconds // MINUTE


def planned(made, case, number, now):
    """Lengths of hold and rest of one puncture before its sheath comes out."""
    record = Record(case, now, number)
    scope = model_scope.withheld(record)
    hold = model_hold.hold(record)
    if hold or scope:
        for part, step in PARTS.items():
            value = getattr(hold, part) if hold else None
            if value is not None:
                made.put(f"site {number} step {step}", {"minutes": None if scope else minutes(value)})
        if hold:
            made.put(f"site {number} step end-compression", {"minutes": None if scope else minutes(hold.total())})
    if len(case["sites"]) == 1:
        rest_values(made, record, number, scope)


def rest_values(made, record, number, scope):
    end = None if scope else model_rest.rest(record, model_course.course(record))
    values = {"raise-head": None if end is None else model_rest.head(record), "sit-up": None if end is None else end - P("rest.sit-before-end"),
              "stand-and-walk": end, "discharge-check": None if end is None else model_rest.discharge(record, end)}
    for step, value in values.items():
        made.put(f"site {number} step {step}", {"afterT0Minutes": minutes(value)})


def shown(value):
    return value if isinstance(value, str) else text(value)


def after_removal(made, case, number, now):
    record = Record(case, now, number)
    found = model_after.after(record)
    if found is None:
        return
    made.put(f"site {number}", {"t0": text(found.t0)})
    if len(case["sites"]) > 1:
        return
    for name, step in found.steps.items():
        made.put(f"site {number} step {name}", {"status": step.status, "earliest": shown(step.earliest)})
        if name in found.minutes:
            made.put(f"site {number} step {name}", {"afterT0Minutes": minutes(found.minutes[name])})


def answer(case, now):
    made = Answer({}, set())
    for number in range(len(case["sites"])):
        record = Record(case, now, number)
        if record.out() is not None:
            after_removal(made, case, number, now)
        elif not record.events(*model_course.EVENTS):
            made.put(f"site {number} gate", gate_values(model_gates.gates(case, number, now)))
            before_removal(made, case, number, now)
            planned(made, case, number, now)
    of_case(made, case, now)
    return made


def of_case(made, case, now):
    """The state of the least advanced puncture, and the clearance as it is shown: one decimal, half up."""
    records = [Record(case, now, number) for number in range(len(case["sites"]))]
    if all(r.out() is not None or not r.events(*model_course.EVENTS) for r in records):
        courses = [model_course.course(r) for r in records]
        state = "sheath-in" if any(c.out is None for c in courses) else "compressing" if any(c.t0 is None for c in courses) else "resting"
        made.put("case", {"state": state})
    value = model_kidney.clearance(records[0]).value
    made.put("case", {"clearance": None if value is None else math.floor(value * 10 + fractions.Fraction(1, 2)) / 10})
