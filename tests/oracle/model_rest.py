"""How long to lie flat from T0, and from when the head may be raised."""
from facts import HOUR
from model_adds import adds, combined
from model_hold import anticoagulated, intervention
from model_protocol import P
from model_scope import french


def by_size(table, size):
    """Rows named 4-6, 7-8, 9-and-over."""
    size = size or 9   # unknown takes the larger row
    return P(f"rest.{table}.{'4-6' if size <= 6 else '7-8' if size <= 8 else '9-and-over'}")


def artery_rest(record, size, closure, failed):
    procedural = intervention(record) or anticoagulated(record)
    if closure in ("device", "suture") and not failed:
        base = by_size("device", size)
        return max(base, P("rest.device.procedural-floor")) if procedural else base
    base = min(max(size * P("rest.artery.per-french"), P("rest.artery.shortest")), P("rest.artery.longest"))
    if procedural:
        base = max(base, P("rest.artery.procedural-floor"))
    return max(base, P("rest.device.failed-floor")) if failed else base


def vein_rest(record, size, closure, failed):
    if closure in ("device", "suture") and not failed:
        return P("rest.vein.suture")
    several = (record.site["punctures"] or 1) > 1   # several sheaths in the vein
    large = size is None or size >= P("hold.vein.large-from-french")
    return P("rest.vein.large-or-anticoagulated") if large or several or anticoagulated(record) else P("rest.vein.plain")


def head(record, failed=False):
    site, size = record.site, french(record.site)
    vein = P("rest.head.vein")
    if site["vessel"] == "vein":
        return vein
    if site["closure"] in ("device", "suture") and not failed:
        artery = P("rest.head.device-4-6" if size is not None and size <= 6 else "rest.head.device-7-and-over")
    else:
        artery = P("rest.head.artery-9-10" if size is None or size >= 9 else "rest.head.artery")
    return artery if site["vessel"] == "artery" else max(artery, vein)


def rest(record, at, pressure_high=False):
    """Seconds from T0 to the end of rest. Beyond 12 h a physician sets it: the length is shown, no instant is."""
    site, size = record.site, french(record.site)
    base = vein_rest(record, size, site["closure"], at.failed) if site["vessel"] == "vein" else artery_rest(record, size, site["closure"], at.failed)
    if site["vessel"] is None:
        base = max(base, vein_rest(record, size, site["closure"], at.failed))
    found = adds(record)
    base = max([base] + [one.floor for one in found])
    extra = combined([one.rest for one in found] + [HOUR] * pressure_high, P("rest.add.each-further"), P("rest.add.longest"))
    return base + extra + at.rebleeds * P("rest.add.rebleed") + at.swollen * P("rest.add.swelling")


def discharge(record, end):
    """After the planned first walk, with an intervention not before T0 + 6 h."""
    walked = end + P("rest.discharge.after-walk")
    return max(walked, P("rest.discharge.after-haemostasis-with-intervention")) if intervention(record) else walked
