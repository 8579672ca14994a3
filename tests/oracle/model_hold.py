"""How long to press: manual (B1), mechanical (B2), closure device (B3), vein (B4)."""
import dataclasses

import model_bedside
from facts import ANTICOAGULANTS, MINUTE, ORAL
from model_adds import adds, body, combined, inhibitor_lately, inr_high, platelets_low
from model_clotting import history, home, procedural
from model_drugs import fondaparinux, low_molecular, oral
from model_protocol import P
from model_record import Record
from model_scope import french


@dataclasses.dataclass
class Hold:
    """Seconds of each part; None where it does not come."""
    firm: int | None = None
    partial: int | None = None
    light: int | None = None
    reduce: int | None = None
    low: int | None = None

    def total(self):
        return sum(part for part in dataclasses.astuple(self) if part is not None)


def intervention(record):
    return record.case["index"]["pci"] is not False


def taken_lately(record):
    """A blood thinner of home in the 6 h before the start, or nobody knows when."""
    first = record.start - P("case.procedural-look-back")
    return any(h["last"] is None or h["last"] >= first for h in record.of("home")) or \
        any(d["at"] >= first and d["agent"] in ORAL + ("warfarin",) for d in record.doses(ANTICOAGULANTS) if record.out() is None or d["at"] <= record.out())


def anticoagulated(record):
    """Yes with a procedural dose or one whose hold had not run out, and while either history gate is not open."""
    at_pull = Record(record.case, record.out() or record.now, record.place)
    held = [rule(at_pull) for rule in (low_molecular, fondaparinux, oral)]
    if procedural(record) or taken_lately(record) or any(gate and gate.state != "open" for gate in held):
        return True
    return history(record).state != "open" or home(record).state != "open"


def artery_row(record, size):
    """(firm, partial, light) of a manual hold without what lengthens it."""
    step = P("hold.artery.rounding")
    hold = -(-size * P("hold.artery.per-french") // step) * step
    hold = min(max(hold, P("hold.artery.shortest")), P("hold.artery.longest"))
    if intervention(record) or anticoagulated(record):
        hold = max(hold, P("hold.artery.procedural-floor"))
    minutes = hold // MINUTE
    partial, light = P(f"hold.artery.partial-of-{minutes}"), P(f"hold.artery.light-of-{minutes}")
    return [hold - partial - light, partial, light]


def vein_row(record, size):
    large = size is None or size >= P("hold.vein.large-from-french")
    several = (record.site["punctures"] or 1) > 1   # several sheaths in the vein
    return P("hold.vein.large-or-anticoagulated") if large or several or anticoagulated(record) else P("hold.vein.plain")


def hold_add(record):
    return combined([add.hold for add in adds(record)], P("hold.add.each-further"), P("hold.add.longest"))


def pressure_high_at_pull(record):
    """Systolic 150 or more in the 5 min before the newest reading that is fresh at the pull; none is the worst row."""
    window = model_bedside.worst_window(Record(record.case, record.out() or record.now, record.place))
    return not window or max(r["systolic"] for r in window) >= P("gate.blood-pressure.systolic-open-below")


def low_hold(record, size):
    reasons = [inhibitor_lately(record), platelets_low(record), inr_high(record), pressure_high_at_pull(record), body(record) == "bmi-high",
               intervention(record), (record.site["punctures"] or 1) > 1, size >= P("hold.mechanical.low-add-from-french")]
    return min(P("hold.mechanical.low") + sum(reasons) * P("hold.mechanical.low-add"), P("hold.mechanical.low-longest"))


def mechanical(record, size):
    partial = P("hold.mechanical.partial-4-5" if size <= 5 else "hold.mechanical.partial-6" if size == 6 else "hold.mechanical.partial-7-10")
    reduce = P("hold.mechanical.step-down-4-6" if size <= 6 else "hold.mechanical.step-down-7-10")
    return Hold(firm=P("hold.pulseless-longest"), partial=partial + hold_add(record), reduce=reduce, low=low_hold(record, size))


def hold(record, failed=False):
    """None where the case is outside what the specification sizes."""
    site, size = record.site, french(record.site)
    extra = hold_add(record)
    if site["vessel"] == "vein":
        if site["closure"] in ("device", "suture"):
            return None
        return Hold(firm=vein_row(record, size) + extra)
    if size is None:
        return None
    if site["closure"] == "mechanical":   # an unknown vessel takes the longer row, the artery's
        return mechanical(record, size)
    if site["closure"] in ("device", "suture") and not failed:
        return Hold(light=P("hold.closure-device.light") + extra)
    firm, partial, light = artery_row(record, size)
    return Hold(firm + extra + (P("hold.closure-device.failed-add") if failed else 0), partial, light)
