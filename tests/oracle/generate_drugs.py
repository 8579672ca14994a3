"""Doses, laboratory values that measure them, statements and home drugs of a random case."""
from facts import AS_OF, DAY, GP_INHIBITORS, HOUR, LOW_MOLECULAR, LYTICS, MINUTE, ORAL, PLATELET, REVERSAL

UNITS = {"heparin": "[iU]", "dalteparin": "[iU]", "tinzaparin": "[iU]", "reteplase": "[iU]", "prothrombin complex": "[iU]"}


def give(t, agent, at, until=None, period=False, status="completed", route="iv", amount=None, flush=False):
    amount = t.pick(2000, 5000, 8000, 12000) if amount is None and agent == "heparin" else amount or 60
    t.tell("dose", at, agent=agent, until=until, period=period, status=status, amount=amount, unit=UNITS.get(agent, "mg"), route=route, flush=flush)


def infusion(t, agent, start, edges):
    """A bolus and an infusion that ended, runs on, or has no known end."""
    at = start + t.random.randint(0, 30) * MINUTE
    if t.chance(0.5):
        give(t, agent, at)
    kind = t.random.random()
    if kind < 0.72:
        stop = max(at + MINUTE, t.often(t.ago(5 * MINUTE, 5 * HOUR), 0.4, t.edge(*edges)))
        give(t, agent, at, until=stop, period=True)
    elif kind < 0.86:
        give(t, agent, at, period=True, status="in-progress")
    else:
        give(t, agent, at, period=True)


def heparin(t, start):
    at = t.often(start + t.random.randint(0, 40) * MINUTE, 0.15, t.edge(6 * HOUR, 4 * HOUR), start - t.pick(6 * HOUR, 6 * HOUR + 1, 7 * HOUR))
    give(t, "heparin", at, route=t.often("iv", 0.1, None))
    if t.chance(0.15):
        give(t, "heparin", t.ago(10 * MINUTE, 3 * HOUR))
    if t.chance(0.12):
        infusion(t, "heparin", start, (6 * HOUR, 4 * HOUR, 30 * MINUTE))
    if t.chance(0.08):
        give(t, "protamine", t.often(t.ago(0, 90 * MINUTE), 0.5, t.edge(40 * MINUTE, 10 * MINUTE)))


def clotting_tests(t):
    falling = t.chance(0.5)
    times = sorted(t.often(t.ago(0, 29 * MINUTE), 0.4, t.edge(30 * MINUTE), t.ago(30 * MINUTE, 4 * HOUR)) for _ in range(t.pick(0, 1, 1, 2, 3)))
    value = t.random.randint(200, 340)
    for at in times:
        value = 140 + round((value - 140) * t.random.uniform(0.3, 0.9))
        odd = t.often(t.random.randint(120, 148), 0.55, 149, 150, 151, 176, 290, 340, 420)
        t.tell("lab", at, **{"from": t.often("arterial sheath", 0.1, None, "peripheral vein")}, test="act", value=value if falling else odd,
               comparator=t.often(None, 0.04, ">", "<", ">=", "<="), analyser=t.often("Bedside analyser A (invented)", 0.2, None, "Bedside analyser B (invented)"))
    if times and t.chance(0.15):   # a second analyser, or another place, at nearly the same time
        t.tell("lab", times[-1] - t.pick(1, 4 * MINUTE, 5 * MINUTE, 5 * MINUTE + 1), **{"from": t.pick("arterial sheath", None, "peripheral vein")}, test="act",
               value=t.pick(130, 149, 150, 171), comparator=None, analyser=t.pick("Bedside analyser A (invented)", None, "Bedside analyser B (invented)"))
    if t.chance(0.15):
        at = t.often(t.ago(0, 59 * MINUTE), 0.4, t.edge(HOUR), t.ago(HOUR, 4 * HOUR))
        t.tell("lab", at, test="aptt", value=t.often(38, 0.5, 44, 45, 60))


def rare(t, start):
    """At most one or two of the agents that have a gate of their own."""
    if t.chance(0.12):
        agent = t.pick(*LOW_MOLECULAR)
        route = t.often("sc", 0.6, "iv", None)
        give(t, agent, t.often(t.ago(HOUR, 14 * HOUR), 0.5, t.edge(8 * HOUR, 6 * HOUR)), route=route)
    if t.chance(0.05):
        give(t, "fondaparinux", t.often(t.ago(HOUR, 130 * HOUR), 0.6, t.edge(48 * HOUR, 120 * HOUR)), route="sc")
    if t.chance(0.12):
        infusion(t, "bivalirudin", start, (120 * MINUTE, 165 * MINUTE, 275 * MINUTE))
    if t.chance(0.06):
        infusion(t, "argatroban", start, (120 * MINUTE, 430 * MINUTE))
        for test in ("alt", "ast"):
            if t.chance(0.3):
                t.tell("lab", t.ago(2 * HOUR, 20 * HOUR), test=test, value=t.pick(35, 119, 120, 400))
    if t.chance(0.1):
        infusion(t, t.pick(*GP_INHIBITORS), start, (DAY,))
    if t.chance(0.04):
        agent = t.pick(*LYTICS)
        give(t, agent, t.often(start, 0.6, t.edge(24 * HOUR, 48 * HOUR)))
        if t.chance(0.7):
            t.tell("lab", t.often(t.ago(0, 5 * HOUR), 0.3, t.edge(6 * HOUR)), test="fibrinogen", value=t.pick(1.5, 1.4, 2.8, 3.0))
    if t.chance(0.12):
        give(t, t.pick(*PLATELET), t.ago(HOUR, 20 * HOUR), route=None)
    if t.chance(0.05):
        give(t, t.pick(*REVERSAL), t.ago(0, 3 * HOUR))
    if t.chance(0.02):
        give(t, t.pick("danaparoid", None), t.ago(HOUR, 8 * HOUR))
    if t.chance(0.05):
        give(t, "heparin", t.ago(0, 3 * HOUR), flush=True)


def home(t, start):
    """What was taken before: oral anticoagulants with a last dose at the edge of their hold, or not known."""
    agent = t.pick(*ORAL, "warfarin", "warfarin")
    hold = t.pick(48, 72, 96, 120) * HOUR
    last = t.often(min(t.ago(5 * HOUR, 130 * HOUR), start - HOUR), 0.5, min(t.edge(hold), start - HOUR))
    if t.chance(0.15):
        give(t, agent, last, route=None)
    else:
        t.tell("home", start - 30 * MINUTE, agent=agent, last=t.often(last, 0.08, None))


def drugs(t, start):
    kind = t.random.random()
    if kind < 0.62:
        heparin(t, start)
    if kind > 0.5:
        rare(t, start)
    if kind < 0.9:
        clotting_tests(t)
    if t.chance(0.15):
        home(t, start)


def statements(t, start):
    dosed = any(f["what"] == "dose" for f in t.facts)
    told_home = any(f["what"] == "home" for f in t.facts)
    if t.chance(0.03 if dosed else 0.8):
        t.tell("statement", t.often(t.ago(0, 40 * MINUTE), 0.1, start - MINUTE, start + MINUTE), code="no-anticoagulant-given")
    if t.chance(0.04 if told_home else 0.92):
        t.tell("statement", t.ago(0, 40 * MINUTE), code="no-home-anticoagulant")
    if t.chance(0.06):
        t.tell("statement", t.ago(0, 3 * HOUR), code="coagulation-test-unavailable")
    for name, part in (("dialysis", 0.02), ("liver disease", 0.02), ("peripheral arterial disease", 0.03), ("severe peripheral arterial disease", 0.01),
                       ("femoral graft", 0.01), ("agitation", 0.02), ("cough", 0.02), ("long term steroid therapy", 0.02), ("pregnancy", 0.01)):
        if t.chance(part):
            t.tell("risk", min(start, AS_OF) - HOUR, name=name)
