"""Gates of the agents that have a row of their own."""
from facts import GP_INHIBITORS, LOW_MOLECULAR, LYTICS, ORAL
from model_clotting import bivalirudin_band, drawn_after, history, home, value_side
from model_gate import Gate, opened, until
from model_kidney import clearance
from model_protocol import P, exact


def gp_inhibitor(record):
    if not record.doses(GP_INHIBITORS):
        return None
    heparin = record.stop(("heparin",))
    if heparin.running:
        return Gate("closed")
    if heparin.unknown:
        return Gate("needs")
    if heparin.at is not None and record.now < heparin.at + P("gate.gp-inhibitor.heparin-off"):
        return Gate("closed", opens=heparin.at + P("gate.gp-inhibitor.heparin-off"))
    if heparin.at is None and history(record).state != "open":
        return Gate("needs")
    count = record.newest("platelets")
    if count and exact(count["value"]) < P("gate.gp-inhibitor.platelets-ask-below"):
        return Gate("ask")
    return opened()


def low_molecular(record):
    doses = record.doses(LOW_MOLECULAR)
    if not doses:
        return None
    hold = {"iv": P("gate.low-molecular-weight-heparin.intravenous")}
    clock = max(d["at"] + hold.get(d["route"], P("gate.low-molecular-weight-heparin.subcutaneous")) for d in doses)
    kidney = clearance(record)
    if kidney.no_clock or kidney.band(P("gate.low-molecular-weight-heparin.clearance")) in (None, 1):
        return Gate("ask", ends=clock)   # not by the clock alone, and not before it
    return until(clock, record.now, kidney.expires)


def fondaparinux(record):
    doses = record.doses(("fondaparinux",))
    if not doses:
        return None
    kidney = clearance(record)
    if kidney.no_clock:
        return Gate("ask", ends=max(d["at"] for d in doses) + P("gate.fondaparinux.hold-impaired"))
    good = kidney.band(P("gate.fondaparinux.clearance")) == 0
    last = max(d["at"] for d in doses)
    return inside_hold(record, last, P("gate.fondaparinux.hold"), P("gate.fondaparinux.hold-impaired"), good, kidney)


def inside_hold(record, last, short, long, good, kidney):
    """Ask below the hold. Past the short hold only, it rests on the clearance."""
    clock = last + (short if good else long)
    if record.now < clock:
        return Gate("ask", ends=clock)
    return opened(kidney.expires if record.now < last + long else None)


def bivalirudin(record):
    if not record.doses(("bivalirudin",)):
        return None
    band, stop = bivalirudin_band(record), record.stop(("bivalirudin",))
    if stop.running:
        return Gate("closed")
    if stop.unknown:
        return Gate("needs")
    sides = [after_stop(record, test, stop) for test in ("act", "aptt")]
    if sides[0] == "over":
        return Gate("closed")
    gate = bivalirudin_by_clock(record, stop, band)
    return Gate(f"closed or {gate.state}") if sides[1] == "over" else gate   # the aPTT gate is closed


def bivalirudin_by_clock(record, stop, band):
    if band in (None, 3):
        return Gate("ask")
    hold = P(("gate.bivalirudin.hold", "gate.bivalirudin.hold-moderate", "gate.bivalirudin.hold-severe")[band])
    return until(stop.at + hold, record.now, clearance(record).expires)


def after_stop(record, test, stop):
    """Under or over by the newest value of a test drawn after the stop; None where there is none. An aPTT over its limit closes its own gate as well."""
    value = record.newest(test)
    if value is None or not drawn_after(value["at"], stop.at):
        return None
    return value_side(value["value"], value.get("comparator"), P(f"gate.{test}.limit"))


def transaminase_high(record):
    """Three times the upper limit or more: what the label leaves out together with liver disease."""
    newest = [record.newest(test) for test in ("alt", "ast")]
    return any(value and exact(value["value"]) >= P("gate.argatroban.transaminase") for value in newest)


def argatroban(record):
    if not record.doses(("argatroban",)):
        return None
    stop = record.stop(("argatroban",))
    if stop.running:
        return Gate("closed")
    if stop.unknown:
        return Gate("needs")
    if not record.risk("liver disease") and not transaminase_high(record):
        return until(stop.at + P("gate.argatroban.hold"), record.now)
    clock = stop.at + P("gate.argatroban.hold-liver")   # it opens nothing, and before it nobody need ask
    return Gate("closed", ends=clock) if record.now < clock else Gate("ask")


def oral_hold(agent, kidney):
    """(the hold by the clearance known, the longest hold of the agent)"""
    name = "gate.direct-oral-anticoagulant."
    if agent == "dabigatran":
        rows = [P(name + row) for row in ("dabigatran-over-80", "dabigatran-50-80", "dabigatran-30-50", "dabigatran-under-30")]
        band = kidney.band(80, 50, 30)
    else:
        rows, band = [P(name + "hold"), P(name + "hold-impaired")], kidney.band(P(name + "clearance"))
    return (rows[-1] if band is None else rows[band]), rows[-1]


def oral(record):
    taken = [(d["agent"], d["until"] if d["until"] is not None else d["at"]) for d in record.doses(ORAL)]
    taken += [(h["agent"], h["last"]) for h in record.of("home") if h["agent"] in ORAL]
    if not taken:
        return None
    if any(last is None for _, last in taken):
        return Gate("needs")
    kidney = clearance(record)
    if kidney.no_clock:
        return Gate("ask", ends=max(last + oral_hold(agent, kidney)[1] for agent, last in taken))
    gates = [inside_hold(record, last, oral_hold(agent, kidney)[0], oral_hold(agent, kidney)[1], kidney.value is not None, kidney) for agent, last in taken]
    asks = [g.ends for g in gates if g.state == "ask"]
    return Gate("ask", ends=max(asks)) if asks else opened(*(g.expires for g in gates))


def warfarin_inr(record):
    warfarin = record.doses(("warfarin",)) or [h for h in record.of("home") if h["agent"] == "warfarin"]
    value = record.newest("inr")
    doses = record.doses(("warfarin", "vitamin k", "prothrombin complex"))
    strict = bool(warfarin or doses)
    if value is None:
        return Gate("needs") if strict or home(record).state == "needs" else None
    demanded = strict or home(record).state == "needs"
    limit = P("fresh.inr-with-warfarin") if strict else P("fresh.inr")
    taken = [d["at"] for d in doses] + [h["last"] for h in record.of("home") if h["agent"] == "warfarin" and h["last"] is not None]
    known = all(h["last"] is not None for h in record.of("home") if h["agent"] == "warfarin")   # else nobody can say that it was drawn after the dose
    fresh = known and record.fresh(value, limit) and all(drawn_after(value["at"], at) for at in taken)
    inr = exact(value["value"])
    if record.fresh(value, limit) and inr > P("gate.warfarin-inr.ask"):
        return Gate("closed", expires=value["at"] + limit)   # a bad one closes, also one from before a reversal
    if not fresh:
        return Gate("needs") if demanded or inr > P("gate.warfarin-inr.open") else opened()
    ends = value["at"] + limit
    if inr > P("gate.warfarin-inr.open"):
        return Gate("ask", expires=ends)
    return opened(ends)


def fibrinolytic(record):
    doses = record.doses(LYTICS)
    if not doses:
        return None
    stop, value = record.stop(LYTICS), record.newest("fibrinogen")
    if stop.running:
        return Gate("closed")
    if stop.unknown or not record.fresh(value, P("fresh.fibrinogen")) or not drawn_after(value["at"], stop.at):
        return Gate("needs")
    if exact(value["value"]) < P("gate.fibrinolytic.fibrinogen"):
        return Gate("closed", expires=value["at"] + P("fresh.fibrinogen"))
    clocks = [d["at"] + P("gate.fibrinolytic.ask-within-reteplase" if d["agent"] == "reteplase" else "gate.fibrinolytic.ask-within") for d in doses]
    ends = value["at"] + P("fresh.fibrinogen")
    return Gate("ask", expires=ends, ends=max(clocks)) if record.now < max(clocks) else opened(ends)
