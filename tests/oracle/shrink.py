"""Makes a case smaller while it still shows a difference, and prints it as a story that can be read back."""
import copy

from facts import AS_OF, text

PLAIN = {"side": "right", "vessel": "artery", "french": 6, "closure": "manual", "punctures": None, "quality": [], "size_in_text": False, "sizes": []}


def smaller(case):
    """Every case that says one thing less, or one thing more plainly."""
    half = len(case["facts"]) // 2
    if half > 4:
        for part in (case["facts"][:half], case["facts"][half:]):
            yield {**case, "facts": part}
    for number in range(len(case["facts"])):
        yield {**case, "facts": case["facts"][:number] + case["facts"][number + 1:]}
    if len(case["sites"]) > 1 and not any(f.get("site") for f in case["facts"]):
        yield {**case, "sites": case["sites"][:1]}
    for number, site in enumerate(case["sites"]):
        for name, value in PLAIN.items():
            if site[name] != value and name != "side":
                changed = copy.deepcopy(case)
                changed["sites"][number][name] = value
                yield changed
    plain_patient = {"birth": "1960-05-05", "sex": "male"}
    if case["patient"] != plain_patient:
        yield {**case, "patient": plain_patient}
    if case["index"]["pci"] is not False:
        yield {**case, "index": {**case["index"], "pci": False}}


def shrink(case, shows):
    """shows({key: case}) -> [bool]; tries all smaller cases of a round at once and goes on with the first that shows it."""
    while True:
        tried = {f"c{number}": one for number, one in enumerate(smaller(case))}
        hits = [one for one, hit in zip(tried.values(), shows(tried)) if hit] if tried else []
        if not hits:
            return case
        case = hits[0]


def before(seconds):
    gap = AS_OF - seconds
    sign, gap = ("-", gap) if gap >= 0 else ("+", -gap)
    return f"{text(seconds)[5:19]} ({sign}{gap // 3600}:{gap % 3600 // 60:02}" + (f":{gap % 60:02})" if gap % 60 else ")")


def lines(case):
    """One line a fact in order of time; times also as hours and minutes before the evaluation."""
    yield f"patient {case['patient']}"
    yield f"index {before(case['index']['start'])} to {before(case['index']['end']) if case['index']['end'] else 'no end'}, intervention {case['index']['pci']}"
    for number, site in enumerate(case["sites"]):
        yield f"site {number}: {({k: v for k, v in site.items() if v not in (None, [], False)})}"
    for fact in sorted(case["facts"], key=lambda f: f["at"]):
        rest = {k: before(v) if k in ("until", "last") and v is not None else v for k, v in fact.items() if k not in ("what", "at")}
        yield f"{before(fact['at'])} {fact['what']} {rest}"
