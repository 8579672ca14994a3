"""What a case says at an instant: the facts true by then, without those entered in error."""
import dataclasses

from facts import MINUTE
from model_protocol import P, exact


@dataclasses.dataclass
class Stop:
    """When the last dose of some agents ended. None: no dose at all; running: dosing until now; unknown: an end that nobody recorded."""
    at: int | None = None
    running: bool = False
    unknown: bool = False

    def given(self):
        return self.at is not None or self.running or self.unknown


def value_side(value, comparator, limit):
    """Under or over a limit (at the limit is over), or None where a comparator leaves it open."""
    if comparator is None:
        return "under" if exact(value) < limit else "over"
    if comparator == "<":
        return "under" if exact(value) <= limit else None
    if comparator == "<=":
        return "under" if exact(value) < limit else None
    return "over" if exact(value) >= limit else None


class Record:
    def __init__(self, case, now, place=0, at_pull=False):
        self.at_pull = at_pull   # a statement on the history counts then whenever it was made
        self.case, self.now, self.place = case, now, place
        self.site = case["sites"][place]
        self.start = case["index"]["start"]
        self.all = [f for f in case["facts"] if not f.get("error")]
        self.facts = [f for f in self.all if f["at"] <= now]

    def of(self, what):
        return [f for f in self.facts if f["what"] == what]

    def newest(self, test):
        """The newest value of a test, or None. Of two at one instant, which contradict each other, the worse counts."""
        found = [f for f in self.of("lab") if f["test"] == test]
        worse = -1 if test in ("platelets", "haemoglobin", "fibrinogen", "weight") else 1
        last = max(found, key=lambda f: (f["at"], worse * f["value"])) if found else None
        return self.contradicted(last, found) if test == "act" and last else last

    def contradicted(self, last, draws):
        """"An ACT belongs to an analyser and a sampling site": two clocks may differ by the tolerance, so which of two draws of different origin is the newest
        is not known within it, and the worse counts. Draws before the last dose tell nothing of it."""
        limit, stop = P("gate.act.limit"), self.stop(("heparin", "argatroban", "bivalirudin")).at
        side = lambda value: value_side(value["value"], value.get("comparator"), limit)
        if any(side(f) != "under" for f in draws if f["at"] == last["at"]) or (stop is not None and not drawn_after(last["at"], stop)):
            return last
        against = [f for f in draws if 0 < last["at"] - f["at"] <= P("case.future-tolerance") and side(f) != "under" and not same_origin(f, last)
                   and (stop is None or drawn_after(f["at"], stop))]
        worst = max(against, key=lambda f: (side(f) == "over", f["value"]), default=None)
        return dict(last, value=worst["value"], comparator=worst.get("comparator")) if worst else last

    def fresh(self, fact, limit):
        return fact is not None and self.now - fact["at"] <= limit

    def doses(self, agents, flush=False):
        back = self.start - P("case.look-back")
        return [f for f in self.of("dose") if f["agent"] in agents and f["flush"] == flush and max(f["at"], f["until"] or f["at"]) >= back]

    def stop(self, agents):
        stop = Stop()
        for dose in self.doses(agents):
            if not dose["period"]:
                stop.at = max(stop.at or 0, dose["at"])
            elif dose["until"] is not None and dose["until"] <= self.now:
                stop.at = max(stop.at or 0, dose["until"])
            elif dose["until"] is not None or dose["status"] == "in-progress":
                stop.running = True
            else:
                stop.unknown = True
        return stop

    def statement(self, code):
        facts = self.all if self.at_pull and code in ("no-anticoagulant-given", "no-home-anticoagulant") else self.facts
        return [f for f in facts if f["what"] == "statement" and f["code"] == code]

    def risk(self, name):
        return any(f["name"] == name for f in self.of("risk"))

    def events(self, *codes):
        return sorted((f for f in self.of("event") if f["site"] == self.place and f["code"] in codes), key=lambda f: f["at"])

    def out(self):
        """When the sheath of this puncture came out, or None."""
        events = self.events("sheath-removed")
        return events[-1]["at"] if events else None

    def checks(self):
        """Checks of this groin: one that names the groin says it of every puncture there."""
        found = sorted((f for f in self.of("check") if f["site"] == self.place or self.same_groin(f["site"])), key=lambda f: f["at"])
        return [dict(check, growth=True) if self.grew(check, found) else check for check in found]

    @staticmethod
    def grew(check, checks):
        """A centimetre more than the last size before it, whatever is said of growth; one that was not there before has not grown."""
        sizes = [c["swelling"] for c in checks if c["swelling"] is not None and c["at"] < check["at"]]
        return check["swelling"] is not None and bool(sizes) and sizes[-1] > 0 and exact(check["swelling"]) - exact(sizes[-1]) >= P("gate.site-status.swelling-growth")

    def same_groin(self, place):
        return self.site["side"] is not None and self.case["sites"][place]["side"] == self.site["side"]


def same_origin(one, other):
    """The same analyser and sampling site; unknown never equals anything."""
    return all(one.get(name) is not None and one.get(name) == other.get(name) for name in ("analyser", "from"))


def drawn_after(draw, dose):
    """A dose and a draw in the same minute: the draw clears nothing."""
    return draw // MINUTE > dose // MINUTE
