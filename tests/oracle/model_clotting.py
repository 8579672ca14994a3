"""Gates of what was given and what measures it: history, home drugs, ACT, aPTT, the heparin clock."""
from facts import ANTICOAGULANTS, LOW_MOLECULAR, ORAL
from model_gate import Gate, opened, until
from model_kidney import clearance
from model_protocol import P
from model_record import drawn_after, value_side

BIVALIRUDIN_EDGES = ("gate.bivalirudin.clearance-moderate", "gate.bivalirudin.clearance-severe", "gate.bivalirudin.clearance-ask")


def procedural(record):
    """Non-flush anticoagulants from 6 h before the start to sheath out."""
    first, out = record.start - P("case.procedural-look-back"), record.out()
    found = []
    for dose in record.doses([a for a in ANTICOAGULANTS if a not in ORAL + ("warfarin",)]):   # tablets feed their own gates
        last = dose["at"] if not dose["period"] else dose["until"] if dose["until"] is not None else record.now
        if last >= first and (out is None or dose["at"] <= out):
            found.append(dose)
    return found


def none_given(record):
    return [s for s in record.statement("no-anticoagulant-given") if s["at"] > record.start]


def with_sheath_in(record, test):
    """The newest value from the start to the sheath's removal, the higher of two of one time."""
    out = record.out()
    found = [f for f in record.of("lab") if f["test"] == test and f["at"] >= record.start and (out is None or f["at"] <= out)]
    return max(found, key=lambda f: (f["at"], f["value"])) if found else None


def against_none(record):
    """What contradicts "none was given": a reversal agent, or an ACT or aPTT that is not under its limit (law 2; a bad value counts whatever the drug)."""
    first, out = record.start - P("case.procedural-look-back"), record.out()
    given = [d for d in record.doses(("protamine", "idarucizumab", "andexanet alfa")) if d["at"] >= first and (out is None or d["at"] <= out)]
    values = [(test, with_sheath_in(record, test)) for test in ("act", "aptt")]
    return given or any(v and value_side(v["value"], v.get("comparator"), P(f"gate.{test}.limit")) == "over" for test, v in values)


def history(record):
    doses, none = procedural(record), none_given(record)
    if record.doses((None,)):
        return Gate("needs")
    if none and (doses or against_none(record)):
        return Gate("needs")
    if record.doses(("danaparoid",)):
        return Gate("ask")
    return opened() if doses or none else Gate("needs")


def home_told(record):
    before = [d for d in record.doses(ORAL + ("warfarin", "fondaparinux") + LOW_MOLECULAR) if d["at"] < record.start]
    return record.of("home") + before


def home(record):
    """A dose given in hospital tells something, and contradicts nobody who says what was taken at home."""
    told, none = home_told(record), record.statement("no-home-anticoagulant")
    if none and (record.of("home") or record.doses(("idarucizumab", "andexanet alfa"))):
        return Gate("needs")
    return opened() if told or none else Gate("needs")


def bivalirudin_band(record):
    """0 over 60, 1 from 30, 2 from 10, 3 under; None: unknown, dialysis or unstable."""
    kidney = clearance(record)
    return None if kidney.no_clock else kidney.band(*(P(edge) for edge in BIVALIRUDIN_EDGES))


def demanding(record):
    """Agents whose rows demand an ACT or aPTT."""
    agents = [agent for agent in ("heparin", "argatroban") if record.doses((agent,))]
    return agents + (["bivalirudin"] if record.doses(("bivalirudin",)) and bivalirudin_band(record) in (1, 2) else [])


def measured(record):
    """Agents on board that an ACT or aPTT measures."""
    return [agent for agent in ("heparin", "argatroban", "bivalirudin") if record.doses((agent,))]


def counts(record, value, stop):
    """Drawn after the last dose, nothing running, and 10 min after protamine."""
    if value is None or stop.running or stop.unknown or (stop.at is not None and not drawn_after(value["at"], stop.at)):
        return False
    bolus = [dose["at"] for dose in record.doses(("heparin",)) if not dose["period"]]
    if bolus and value["at"] < max(bolus) + P("gate.act.after-bolus"):   # not mixed yet: this protocol's rule, the model has none
        return False
    protamine = record.stop(("protamine",))
    return protamine.at is None or value["at"] >= protamine.at + P("gate.act.after-protamine")


def clock_applies(record):
    """A statement since the start that the tests cannot be had, ended by a later test; heparin only."""
    said = [s for s in record.statement("coagulation-test-unavailable") if s["at"] >= record.start]
    if not said or not record.doses(("heparin",)):
        return False
    last = max(s["at"] for s in said)
    return not any(f["at"] > last for f in record.of("lab") if f["test"] in ("act", "aptt"))


def test_value(record, test, stop):
    """(fresh and counting, under/over/None) of the newest value; (False, None) where there is none."""
    value = record.newest(test)
    if value is None:
        return False, None
    good = record.fresh(value, P(f"fresh.{test}")) and counts(record, value, stop)
    return good, value_side(value["value"], value.get("comparator"), P(f"gate.{test}.limit"))


def ends(record, test):
    """Until when the newest value is fresh; None when it is not."""
    end = record.newest(test)["at"] + P(f"fresh.{test}")
    return end if end >= record.now else None


def contradicts(record, aptt_good):
    """An ACT over its limit that is fresh, or was when the aPTT was drawn: getting old opens nothing."""
    act, aptt = record.newest("act"), record.newest("aptt")
    return record.fresh(act, P("fresh.act")) or (aptt_good and aptt["at"] - act["at"] <= P("fresh.act"))


def act_by_values(record, stop):
    if stop.running:
        return Gate("closed")
    if stop.unknown:
        return Gate("needs")
    act_good, act_side = test_value(record, "act", stop)
    aptt_good, aptt_side = test_value(record, "aptt", stop)
    if act_side == "over" and contradicts(record, aptt_good):
        after = stop.at is None or drawn_after(record.newest("act")["at"], stop.at)
        fresh = record.fresh(record.newest("act"), P("fresh.act"))
        return Gate("closed", expires=ends(record, "act")) if after and fresh else Gate("needs")
    by_act = act_good and act_side == "under"
    by_aptt = aptt_good and aptt_side == "under" and not record.doses(("argatroban",))   # its row demands an ACT
    if by_act or by_aptt:
        return opened(max(ends(record, test) for test, good in (("act", by_act), ("aptt", by_aptt)) if good))
    return Gate("needs")


def any_over(record, test, since):
    """Any value on file since the last dose at or over the limit, whatever its age."""
    return any(f["test"] == test and drawn_after(f["at"], since) and value_side(f["value"], f.get("comparator"), P(f"gate.{test}.limit")) == "over"
               for f in record.of("lab"))


def act(record):
    agents = demanding(record)
    stop = record.stop(measured(record))
    if agents == ["heparin"] and clock_applies(record):
        return Gate("closed") if any_over(record, "act", stop.at or 0) else None
    if agents:
        return act_by_values(record, stop)
    after_intervention = record.case["index"]["pci"] is not False
    untold = history(record).state == "needs" or not (procedural(record) or none_given(record))
    return Gate("needs") if after_intervention and untold else None


def aptt(record):
    agents, value = measured(record), record.newest("aptt")
    stop = record.stop(agents)
    if not agents or value is None or stop.running or stop.unknown or not drawn_after(value["at"], stop.at):
        return None
    good, side = test_value(record, "aptt", stop)
    if agents == ["heparin"] and clock_applies(record):   # "whatever its age"
        return Gate("closed") if any_over(record, "aptt", stop.at) else None
    if side == "over":
        return Gate("closed", expires=ends(record, "aptt"))
    if good and side == "under":
        return opened(ends(record, "aptt"))
    act_good, act_side = test_value(record, "act", record.stop(agents))
    return None if act_good and act_side == "under" else Gate("needs")


def heparin_clock(record):
    if not clock_applies(record):
        return None
    stop = record.stop(("heparin",))
    if stop.running:
        return Gate("closed")
    since = stop.at or 0   # of a stop that nobody knows any value on file may be one since the last dose
    if any_over(record, "act", since) or any_over(record, "aptt", since):
        return Gate("closed")
    return Gate("needs") if stop.unknown else until(stop.at + P("gate.heparin-clock.hold"), record.now)
