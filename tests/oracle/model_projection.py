"""When the ACT may fall under the limit, and when to draw next. Never a permission.

ACT(t) = B + (A - B) 2^(-t/T); T is log-normal, median 90 min, 90th percentile 120 min; later values of the same analyser move T.
"""
import math

from facts import THROMBIN
from model_clotting import clock_applies
from model_protocol import P
from model_record import drawn_after, same_origin

Z90 = 1.2815515655446004   # 90th percentile of the standard normal distribution
STEPS = 4001


def baseline(record, anchor):
    """The newest exact value of the same analyser before the first heparin, else the protocol's."""
    first = min(d["at"] for d in record.doses(("heparin",)))
    found = [f for f in record.of("lab") if f["test"] == "act" and f["at"] < first and not f.get("comparator") and same_origin(f, anchor)]
    return float(max(found, key=lambda f: f["at"])["value"]) if found else float(P("projection.baseline"))


def half_lives(anchor, later, base):
    """[(T in seconds, weight)] on an even grid of ln T over 6 standard deviations."""
    median = float(P("projection.half-life-median"))
    sigma = math.log(float(P("projection.half-life-slow")) / median) / Z90
    error = float(P("projection.measurement-error"))
    grid = []
    for step in range(STEPS):
        z = -6 + 12 * step / (STEPS - 1)
        life = median * math.exp(sigma * z)
        log = -z * z / 2
        for value in later:
            gap = base + (anchor["value"] - base) * 2 ** (-(value["at"] - anchor["at"]) / life) - value["value"]
            log -= (gap / error) ** 2 / 2
        grid.append((life, log))
    top = max(log for _, log in grid)
    return [(life, math.exp(log - top)) for life, log in grid]


def quantile(grid, part):
    total, sum_ = sum(weight for _, weight in grid), 0.0
    for life, weight in grid:
        sum_ += weight
        if sum_ >= part * total:
            return life
    return grid[-1][0]


def values_after(record):
    """ACT values since the last heparin, in order of time; none while it runs or its stop is unknown."""
    stop = record.stop(("heparin",))
    if stop.at is None or stop.running or stop.unknown:
        return []
    return sorted((f for f in record.of("lab") if f["test"] == "act" and drawn_after(f["at"], stop.at)), key=lambda f: f["at"])


def in_range(value):
    return P("projection.lowest") <= value["value"] <= P("projection.highest")


def crossings(record):
    """(10, 50, 90 %) instants at which the limit is crossed, or None."""
    values = values_after(record)
    if not values or record.doses(THROMBIN + ("protamine",)) or clock_applies(record):
        return None
    anchor, limit = values[0], float(P("gate.act.limit"))
    base = baseline(record, anchor)
    if anchor.get("comparator") or not in_range(anchor) or base >= limit or anchor["value"] <= limit:
        return None
    later = [v for v in values[1:] if same_origin(v, anchor)]
    if any(v.get("comparator") or not in_range(v) for v in later):
        return None
    grid = half_lives(anchor, later, base)
    factor = math.log2((anchor["value"] - base) / (limit - base))
    return [anchor["at"] + round(quantile(grid, part) * factor) for part in (0.1, 0.5, 0.9)]


def ambiguous(record):
    """Two draws at one instant: which of them anchors the curve, nobody says."""
    times = [v["at"] for v in values_after(record)]
    return len(times) != len(set(times))


def next_draw(record, crossing):
    """First draw 3 h after the last heparin; later ones at the 50 % crossing, 30 to 60 min after the last draw."""
    stop = record.stop(("heparin",))
    values = values_after(record)
    if stop.at is None or stop.running or stop.unknown:
        return None
    last = values[-1]["at"] if values else None
    protamine = record.stop(("protamine",)).at
    clear = protamine + P("gate.act.after-protamine") if protamine is not None else None
    if clear and clear > stop.at and (last is None or last < clear):
        return clear
    if last is None:
        return stop.at + P("projection.first-draw")
    middle = crossing[1] if crossing else last
    return min(max(middle, last + P("projection.redraw-soonest")), last + P("projection.redraw-latest"))
