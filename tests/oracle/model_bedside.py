"""Gates of what is seen and measured at the bed: access, site, pressure, heart rate, blood count."""
from facts import GP_INHIBITORS
from model_gate import Gate, opened
from model_protocol import P, exact
from model_scope import contradicted


def access(record):
    site = record.site
    known = site["side"] and site["vessel"] and site["closure"] and site["french"] is not None and not site["size_in_text"]
    if not known or contradicted(site):
        return Gate("needs")
    return Gate("ask") if record.risk("femoral graft") else opened()


def site_status(record):
    """A fresh, complete check; of several at one instant the worst. A later incomplete one counts for what it says and is never fresh, and "newest value of
    each test counts, not an older one": what it left open, or said in words, a check before it does not stand in for."""
    checks = [check for check in record.checks() if record.fresh(check, P("fresh.site-check"))]
    complete = [check for check in checks if whole(check)]
    last = complete[-1]["at"] if complete else record.now - P("fresh.site-check")
    bad = [check["at"] for check in checks if check["at"] >= last and bad_finding(check)]
    if bad:
        return Gate("closed", expires=max(bad) + P("fresh.site-check"))
    if any(looks(check) and not whole(check) and (check["at"] > last or (check["at"] == last and check.get("words"))) for check in record.checks()):
        return Gate("needs")
    # "Pulses as the baseline": as before what, where nobody recorded it?
    return opened(last + P("fresh.site-check")) if complete and any(check.get("baseline") for check in record.checks()) else Gate("needs")


def whole(check):
    return None not in (check["bleeding"], check["swelling"], check["growth"], check["pulse"]) and not check.get("words")


def looks(check):
    return any(check[part] is not None for part in ("bleeding", "swelling", "growth", "pulse")) or bool(check.get("words"))


def bad_finding(check):
    swelling = check["swelling"] is not None and exact(check["swelling"]) >= P("gate.site-status.swelling")
    return check["bleeding"] == "bleeding" or swelling or check["growth"] or check["pulse"] in ("weaker", "absent")


def pressure_range(readings):
    """The worst of some readings: closed, ask or open."""
    systolic = [r["systolic"] for r in readings]
    if min(systolic) < P("gate.blood-pressure.systolic-low") or max(systolic) >= P("gate.blood-pressure.systolic-close") \
            or max(r["diastolic"] for r in readings) >= P("gate.blood-pressure.diastolic-close"):
        return "closed"
    return "ask" if max(systolic) >= P("gate.blood-pressure.systolic-open-below") else "open"


def high(reading):
    return reading["systolic"] >= P("gate.blood-pressure.systolic-close") or reading["diastolic"] >= P("gate.blood-pressure.diastolic-close")


def worst_window(record):
    """The readings within the 5 min before the newest, and it; empty when none is fresh."""
    readings = sorted(record.of("pressure"), key=lambda r: r["at"])
    if not readings or not record.fresh(readings[-1], P("fresh.blood-pressure")):
        return []
    return [r for r in readings if readings[-1]["at"] - r["at"] <= P("gate.blood-pressure.window")]


def blood_pressure(record):
    window = worst_window(record)
    if not window:
        return Gate("needs")
    state = pressure_range(window)
    highs = [r for r in record.of("pressure") if high(r) and window[-1]["at"] - r["at"] <= P("gate.blood-pressure.after-high")]
    if state != "closed" and highs:
        since = max(r["at"] for r in record.of("pressure") if pressure_range([r]) != "open")
        good = [r["at"] for r in record.of("pressure") if r["at"] > since]
        if not good or max(good) - min(good) < P("gate.blood-pressure.apart"):
            return Gate("needs")
    return Gate(state, expires=window[-1]["at"] + P("fresh.blood-pressure"))


def heart_rate(record):
    newest = record.newest("heart-rate")
    if not record.fresh(newest, P("fresh.heart-rate")):
        return Gate("needs")
    ends = newest["at"] + P("fresh.heart-rate")
    if newest["value"] < P("gate.heart-rate.close-below"):
        return Gate("closed", expires=ends)
    if newest["value"] < P("gate.heart-rate.low-open") or newest["value"] > P("gate.heart-rate.high-open"):
        return Gate("ask", expires=ends)
    return opened(ends)


def bleeding_sign(check):
    swelling = check["swelling"] is not None and exact(check["swelling"]) >= P("gate.site-status.swelling")
    return check["bleeding"] == "bleeding" or swelling or bool(check["growth"])


def failed_late(record, event):
    """A closure that fails after haemostasis bleeds again."""
    return event.get("code") == "closure-failed" and any(f.get("code") == "haemostasis-confirmed" and f.get("site") == event.get("site") and f["at"] <= event["at"] for f in record.facts)


def haemoglobin(record):
    newest = record.newest("haemoglobin")
    signs = [f["at"] for f in record.facts if (f["what"] == "check" and bleeding_sign(f)) or f.get("code") == "rebleed" or failed_late(record, f)]
    if not record.fresh(newest, P("fresh.haemoglobin")) or (signs and newest["at"] <= max(signs)):
        return Gate("needs")
    since = record.start - P("gate.haemoglobin.baseline")
    values = [exact(f["value"]) for f in record.of("lab") if f["test"] == "haemoglobin" and f["at"] >= since]
    ends = newest["at"] + P("fresh.haemoglobin")
    value = exact(newest["value"])
    if value < P("gate.haemoglobin.low") or max(values) - value >= P("gate.haemoglobin.fall"):
        return Gate("ask", expires=ends)
    return opened(ends)


def platelets(record):
    newest = record.newest("platelets")
    inhibitor = record.doses(GP_INHIBITORS)
    limit = P("fresh.platelets-with-gp-inhibitor") if inhibitor else P("fresh.platelets")
    if not record.fresh(newest, limit):
        return Gate("needs")
    if exact(newest["value"]) < P("gate.platelets.limit"):
        return Gate("closed", expires=newest["at"] + limit)
    if inhibitor and newest["at"] < min(d["at"] for d in inhibitor) + P("fresh.platelets-after-gp-inhibitor-start"):
        return Gate("needs")
    return opened(newest["at"] + limit)
