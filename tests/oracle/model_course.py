"""What happened to one puncture: sheath out, compression, haemostasis (T0), bleeding again."""
import dataclasses

from model_protocol import P, exact


EVENTS = ("compression-started", "compression-ended", "haemostasis-confirmed", "rebleed", "closure-failed")


@dataclasses.dataclass
class Course:
    out: int | None = None
    t0: int | None = None          # as it stands: voided by a large or growing swelling until a new haemostasis
    rebleeds: int = 0
    failed: bool = False           # a closure device failed: pressed by hand from then on
    swollen: bool = False          # a swelling that did not void a T0
    outgrown: int | None = None    # the last T0 that a swelling voided


class Walk:
    """Goes through what happened to one puncture in order of time."""

    def __init__(self, record):
        self.record, self.at = record, Course(out=record.out())
        self.running = self.ended = self.confirmed = None
        self.by_device = record.site["closure"] in ("device", "suture")

    def void(self):
        self.at.t0 = self.ended = self.confirmed = None
        self.at.failed = self.at.failed or self.by_device

    def bleeding(self, event):
        """A compression after T0 is a rebleed, and so is the failure of a device after it, and an event that says so.
        Of a hold whose method is not known the T0 that it would have by hand counts."""
        stood = self.at.t0 is not None or self.dry_if_by_hand()
        again = event["code"] == "compression-started" and stood
        late = event["code"] == "closure-failed" and self.at.t0 is not None   # what was dry until then bleeds again
        self.at.rebleeds += again or late or event["code"] == "rebleed"
        if self.at.t0 is not None or event["code"] != "compression-started":
            self.void()
        self.ended = self.confirmed = None
        if event["code"] == "compression-started":
            self.running = event

    def released(self, event):
        """Pressed as long as without a device: it did not hold. This protocol's rule, the model has none. Where no start is recorded
        it may have been pressed since the sheath was out: unknown is never better (law 2)."""
        first = self.running is None and self.at.t0 is None and self.ended is None and not self.at.failed and self.at.outgrown is None
        since = self.running["at"] if self.running else self.at.out if first else None
        if self.by_device and since is not None and event["at"] - since >= P("hold.closure-device.failed-from"):
            self.at.failed = True
        if event["code"] == "compression-ended":
            self.running, self.ended = None, event["at"]
        else:
            self.confirmed = event["at"]
            self.running = self.running if self.running and mechanical(self.record, self.running) else None
        if self.confirmed is not None and self.running is None:
            self.at.t0 = max(t for t in (self.confirmed, self.ended) if t is not None)

    def dry_if_by_hand(self):
        """Haemostasis was confirmed in a hold of unknown method: by hand T0 would stand."""
        return self.confirmed is not None and self.running is not None and not (self.running.get("method") or self.record.site["closure"])

    def checked(self, check):
        if voids(check) and self.dry_if_by_hand():
            self.confirmed = None
        if voids(check) and self.at.t0 is not None:
            self.at.outgrown = self.at.t0
            self.void()
        elif voids(check) or (check["swelling"] or 0) > 0:
            self.at.swollen = True

    def go(self):
        """At one instant what went wrong comes before the compression, that before what ends it, and a check last."""
        order = {"rebleed": 0, "closure-failed": 0, "compression-started": 1}
        happened = [(e["at"], order.get(e["code"], 2), e) for e in self.record.events(*EVENTS)]
        happened += [(c["at"], 3, c) for c in self.record.checks()]
        for _, _, fact in sorted(happened, key=lambda h: h[:2]):
            if fact["what"] == "check":
                self.checked(fact)
            elif fact["code"] in ("compression-ended", "haemostasis-confirmed"):
                self.released(fact)
            else:
                self.bleeding(fact)
        return self.at


def course(record):
    return Walk(record).go()


def mechanical(record, event):
    """A hold by a device, which is off only when somebody says so; an unknown method may be one."""
    return (event.get("method") or record.site["closure"]) in ("mechanical", None)


def voids(check):
    """5 cm or growing."""
    return bool(check["growth"]) or (check["swelling"] is not None and exact(check["swelling"]) >= P("gate.site-status.swelling"))
