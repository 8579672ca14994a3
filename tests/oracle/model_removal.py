"""When the sheath may come out: from the gates now, and at the clocks ahead."""
import dataclasses

from facts import GP_INHIBITORS, MINUTE
from model_clotting import measured, none_given, procedural
from model_gate import Gate
from model_gates import gates
from model_hold import hold
from model_protocol import P
from model_projection import crossings
from model_record import Record
from model_scope import withheld


@dataclasses.dataclass
class Step:
    status: str
    earliest: int | None = None
    expected: int | None = None
    actual: int | None = None


def all_open(case, place, at):
    return all(gate.state == "open" for gate in gates(case, place, at).values())


def open_since(case, place, now):
    """The first second of the stretch up to now in which every gate is open. Readings at the bedside keep it short."""
    record = Record(case, now, place)
    marks = {f[key] for f in record.facts for key in ("at", "until", "last") if isinstance(f.get(key), int)}
    marks |= {gate.ends for gate in gates(case, place, now).values() if gate.ends}
    since = now
    for mark in sorted((m for m in with_limits(marks) if record.start <= m <= now), reverse=True):
        if not all_open(case, place, mark):
            break
        since = mark
    return since


def with_limits(marks):
    """Instants at which something recorded may begin or cease to count: whole minutes and the seconds after them, by the protocol's limits."""
    limits = [m * MINUTE for m in (0, 5, 10, 30, 120, 165, 240, 275, 360, 430, 480, 1440, 2880, 4320, 5760, 7200)]
    return {mark + limit for mark in marks for limit in limits}


def certain(gate):
    return " or " not in gate.state


def removal(case, place, now):
    """None where the specification leaves a gate open on which it depends."""
    record = Record(case, now, place)
    found = gates(case, place, now)
    if not all(certain(gate) for gate in found.values()):
        return None
    if withheld(record) or contradicted(record) or ischaemic(record):
        return Step("blocked")
    shut = {name: gate for name, gate in found.items() if gate.state != "open"}
    if unsettled(record):   # nobody pulls before it is settled how the groin may be pressed; the clocks are told all the same
        shut = shut or {"hold": Gate("needs")}
    if not shut and not artery_first(record):
        return Step("blocked") if pressure_low(record) else Step("due", earliest=open_since(case, place, now))
    if shut and not unsettled(record) and not artery_first(record) and all(gate.opens for gate in shut.values()):
        clock = max(gate.opens for gate in shut.values())
        if all_open(case, place, clock):
            if pressure_low(record):
                return Step("blocked", expected=clock)
            return Step("expected", earliest=clock, expected=clock)
    clocks = [clock for gate in shut.values() for clock in (gate.opens, gate.ends) if clock] + (act_clocks(record) if "act" in shut else [])
    clocks += needed_clocks(record, shut)
    return Step("blocked", expected=max((clock for clock in clocks if clock > now), default=None))


def pressure_low(record):
    """Low, or fallen from the first that was good, and no two good ones since: bleeding is looked for before the sheath is taken out. No rule of the model for the
    pull ("no open urgent or emergency alert" stands there for the rest); the figures are the protocol's."""
    low, ok = P("gate.blood-pressure.systolic-low"), P("gate.blood-pressure.systolic-open-below")
    readings = sorted((r for r in record.of("pressure") if r["at"] >= record.start), key=lambda r: r["at"])
    first = next((r["systolic"] for r in readings if low <= r["systolic"] < ok), None)
    alarmed, good, known = False, 0, False
    for reading in readings:
        known = known or low <= reading["systolic"] < ok
        if reading["systolic"] < low or (known and first - reading["systolic"] >= P("alert.systolic-fall")):
            alarmed, good = True, 0
        else:
            good += 1
            alarmed = alarmed and good < 2
    return alarmed


def unsettled(record):
    """A planned device total, or a hold with what is added, that a clinician decides on."""
    planned = hold(record)
    device = record.site["closure"] == "mechanical"
    return planned is not None and planned.total() > P("hold.mechanical.total-ask" if device else "hold.add.withheld-over")


def act_clocks(record):
    """The 50 % crossing: before it no ACT is expected to open its gate."""
    crossing = crossings(record)
    return crossing[1:2] if crossing else []


def needed_clocks(record, shut):
    """Clocks inside gates that need a value: when an ACT counts after protamine, when a platelet count does after a GP inhibitor began."""
    clocks, protamine = [], record.stop(("protamine",)).at
    if "act" in shut and shut["act"].state == "needs" and protamine is not None and not record.stop(measured(record)).unknown:
        clocks.append(protamine + P("gate.act.after-protamine"))
    bolus, drawn = [dose["at"] for dose in record.doses(("heparin",)) if not dose["period"]], record.newest("act")
    if "act" in shut and shut["act"].state == "needs" and bolus and drawn and drawn["at"] > max(bolus):
        mixed = max(bolus) + P("gate.act.after-bolus")
        clocks += [mixed] if drawn["at"] < mixed else []
    inhibitor = record.doses(GP_INHIBITORS)
    if "platelets" in shut and shut["platelets"].state == "needs" and inhibitor:
        clocks.append(min(d["at"] for d in inhibitor) + P("fresh.platelets-after-gp-inhibitor-start"))
    return clocks


def ischaemic(record):
    """The foot pulse was absent, and no two normal checks have followed."""
    normal = 2
    for check in record.checks():
        if check["pulse"] == "absent":
            normal = 0
        elif check["pulse"] == "as-baseline":
            normal += 1
    return normal < 2


def contradicted(record):
    """Facts that contradict each other withhold what depends on them."""
    return bool((procedural(record) and none_given(record)) or (record.of("home") and record.statement("no-home-anticoagulant")))


def artery_first(record):
    """In one groin the artery comes out first; the vein waits for it."""
    if record.site["vessel"] != "vein":
        return False
    for place, site in enumerate(record.case["sites"]):
        if site["vessel"] == "artery" and record.same_groin(place) and Record(record.case, record.now, place).out() is None:
            return True
    return False
