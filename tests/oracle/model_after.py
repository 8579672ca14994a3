"""One puncture after its sheath came out: T0, and from when the patient may sit, stand and walk."""
import dataclasses

import model_bedside
from model_adds import pulled_early
from model_course import course
from model_protocol import P
from model_removal import Step, ischaemic
from model_rest import discharge, head, rest
from model_scope import withheld


@dataclasses.dataclass
class After:
    t0: int | None
    steps: dict           # step -> Step
    minutes: dict         # step -> seconds from T0


STEPS = ("raise-head", "sit-up", "stand-and-walk", "discharge-check")


def pressure_high(record, t0, end):
    """A systolic pressure of 160 or more on bed rest; it stays."""
    return any(t0 <= r["at"] <= end and r["systolic"] >= P("gate.blood-pressure.systolic-close") for r in record.of("pressure"))


def rest_length(record, at):
    """The length grows with what is seen until it ends. After a T0 that a swelling voided it ends no sooner than with a small one (law 3)."""
    length = pressed(record, at, at.t0)
    if at.t0 is None or at.outgrown is None:
        return length
    small = pressed(record, dataclasses.replace(at, swollen=True), at.outgrown)
    return max(length, at.outgrown + small - at.t0)


def pressed(record, at, t0):
    plain = rest(record, at)
    return rest(record, at, True) if t0 is not None and pressure_high(record, t0, t0 + plain) else plain


def minutes_of(record, at):
    length = rest_length(record, at)
    return {"raise-head": head(record, at.failed), "sit-up": length - P("rest.sit-before-end"), "stand-and-walk": length,
            "discharge-check": discharge(record, length)}


def well(record):
    """The last check fresh, dry and as the baseline, and the pressure 90 to 159. The other conditions are not followed here."""
    checks = record.checks()
    if not checks or not record.fresh(checks[-1], P("fresh.site-check")):
        return False
    window = model_bedside.worst_window(record)
    last = [check for check in checks if check["at"] == checks[-1]["at"]]
    if not window or not all(model_bedside.whole(c) and c["bleeding"] == "none" and not c["growth"] and c["pulse"] == "as-baseline" for c in last):
        return False
    return P("gate.blood-pressure.systolic-low") <= window[-1]["systolic"] < P("gate.blood-pressure.systolic-close")


def step_of(record, at, seconds, set_by_physician):
    if at.t0 is None:
        return Step("blocked" if set_by_physician else "expected")
    clock = at.t0 + seconds
    if set_by_physician:
        return Step("blocked")
    if record.now < clock:
        return Step("expected", earliest=clock)
    return Step("due or blocked" if well(record) else "blocked", earliest="any" if well(record) else None, expected="any")


def after(record):
    """None where the specification leaves open what it depends on."""
    if pulled_early(record) is None:
        return None
    at = course(record)
    if withheld(record, at.failed) or ischaemic(record):
        return After(at.t0, {name: Step("blocked") for name in STEPS}, {})
    minutes = minutes_of(record, at)
    beyond = minutes["stand-and-walk"] > P("rest.add.withheld-over")
    return After(at.t0, {name: step_of(record, at, seconds, beyond) for name, seconds in minutes.items()}, minutes)
