"""What happens to the punctures of a random case: sheath out, compression, haemostasis, bleeding again, checks."""
from facts import AS_OF, HOUR, MINUTE


def decide(t, told):
    """Now and then a clinician has answered an ask at the bedside."""
    if t.chance(0.1):
        gate, seen = t.pick(("blood-pressure", "150"), ("blood-pressure", "159"), ("heart-rate", "49"), ("heart-rate", "121"), ("haemoglobin", "7.9"),
                            ("warfarin-inr", "1.8"), ("warfarin-inr", "1.6"))
        t.tell("decision", t.often(t.ago(0, 20 * MINUTE), 0.3, t.edge(HOUR)), gate=gate, seen=seen)


def removal(t, told, number, bedside, check):
    """One puncture from the pull on. Everything lies before the evaluation."""
    begin = (told["index"]["end"] or told["index"]["start"]) + 5 * MINUTE
    out = max(begin, t.ago(MINUTE, min(AS_OF - begin, 9 * HOUR) if AS_OF > begin else MINUTE))
    bedside(t, out)
    tell = lambda code, at, **more: t.tell("event", at, code=code, site=number, **more)
    tell("sheath-removed", out)
    method = told["sites"][number]["closure"]
    if not t.chance(0.25 if method in ("device", "suture") else 0.05):
        tell("compression-started", out + t.pick(0, 0, 1) * MINUTE, method=None)
    hold = {"mechanical": t.pick(100, 117, 150), "device": t.pick(5, 5, 5, 14, 15, 24)}.get(method, t.pick(10, 20, 25, 40)) * MINUTE
    dry = out + hold
    if dry >= AS_OF:
        return
    if t.chance(0.1):
        tell("compression-ended", dry - t.pick(0, 1) * MINUTE)
    if t.chance(0.95):
        tell("haemostasis-confirmed", dry)
    after(t, number, method, dry, check, tell)


def after(t, number, method, dry, check, tell):
    at = dry
    for minutes in (15, 15, 15, 15, 30, 30, 30, 30, 60, 60, 60, 60, 240):
        at += minutes * MINUTE
        if at > AS_OF:
            break
        if t.chance(0.9):
            check(t, at, number, bad=0.02)
    if method in ("device", "suture") and t.chance(0.15) and dry + 20 * MINUTE < AS_OF:
        tell("closure-failed", dry + 5 * MINUTE)
        tell("compression-started", dry + 5 * MINUTE, method=None)
        tell("haemostasis-confirmed", min(dry + t.pick(20, 35) * MINUTE, AS_OF))
    elif t.chance(0.12):
        again = dry + t.random.randint(10, 200) * MINUTE
        if again < AS_OF:
            tell("rebleed", again)
            tell("compression-started", again, method=None)
            stop = again + t.pick(15, 20, 35) * MINUTE
            if stop < AS_OF:
                tell("haemostasis-confirmed", stop)


def course(t, told, bedside, check):
    decide(t, told)
    gone = t.chance(0.45)
    for number in range(len(told["sites"])):
        if gone and not t.chance(0.08):
            removal(t, told, number, bedside, check)
    bedside(t, AS_OF)
    for number in range(len(told["sites"])):
        if not t.chance(0.06):
            check(t, t.often(AS_OF - t.random.randint(0, 14) * MINUTE, 0.15, AS_OF - 15 * MINUTE, AS_OF - 15 * MINUTE - 1, AS_OF - 50 * MINUTE), number)
