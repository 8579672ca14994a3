"""Compares the oracle with the program over random cases; each difference is shrunk to a small story."""
import collections
import multiprocessing

import generate
import model_answer
import program
import shrink
from facts import AS_OF, instant

GRID = 60   # seconds; how fine the grid of the projection is, is nobody's law
PROJECTED = (" p10", " p50", " p90", " nextDraw", " remove-sheath expected")


def same(path, ours, theirs):
    if ours == theirs:
        return True
    if ours == "any" or (isinstance(ours, str) and theirs in ours.split(" or ")):
        return True   # the specification leaves it open
    return bool(path.endswith(PROJECTED) and ours and theirs and abs(instant(ours) - instant(theirs)) <= GRID)


def differences(case, theirs):
    """({path: (oracle, program)} of what differs, all paths compared); theirs None: the sites cannot be told apart, nothing is compared."""
    if theirs is None:
        return {}, []
    ours = model_answer.answer(case, AS_OF)
    compared = [p for p in {**ours.values, **theirs} if p in ours.values or any(p.startswith(f) for f in ours.families)]
    return {p: (ours.values.get(p), theirs.get(p)) for p in compared if not same(p, ours.values.get(p), theirs.get(p))}, compared


def kind(path, pair):
    """What counts as the same difference: the path without the site, and states as they are, instants only as set or not."""
    words = tuple(v if v is None or not isinstance(v, str) or "T" not in v else "instant" for v in pair)
    return " ".join(w for w in path.split(" ") if not w.isdigit()), words


def one_batch(work):
    executable, seeds = work
    found, compared = [], collections.Counter()
    cases = {f"c{seed}": generate.case(seed) for seed in seeds}
    told = program.run(executable, cases)
    for key, case in cases.items():
        differing, paths = differences(case, told[key])
        found += [(kind(path, pair), (int(key[1:]), path, pair)) for path, pair in differing.items()]
        compared.update(kind(path, ())[0] for path in paths)
    return found, compared


def run(executable, seeds, batch=125):
    """Compares cases by seed, two batches at a time: (differences by kind with their seeds, compared values by field)."""
    found, compared = collections.defaultdict(list), collections.Counter()
    seeds = list(seeds)
    work = [(executable, seeds[first:first + batch]) for first in range(0, len(seeds), batch)]
    with multiprocessing.Pool(2) as pool:
        for differing, paths in pool.imap(one_batch, work):
            for sort, hit in differing:
                found[sort].append(hit)
            compared.update(paths)
    return found, compared


def story(executable, seed, path, pair):
    """The fewest facts that still show a difference of the same kind, as lines."""
    wanted = kind(path, pair)

    def shows(cases):
        told = program.run(executable, cases)
        return [any(kind(p, v) == wanted for p, v in differences(case, told[key])[0].items()) for key, case in cases.items()]

    case = shrink.shrink(generate.case(seed), shows)
    return shrink.lines(case)


def report(executable, found, compared, stories):
    total, bad = sum(compared.values()), sum(len(v) for v in found.values())
    print(f"{total} values compared, {bad} differ")
    for field, count in sorted(compared.items()):
        wrong = sum(len(v) for (name, _), v in found.items() if name == field)
        if wrong:
            print(f"  {field}: {count - wrong} of {count} agree")
    for (name, words), hits in sorted(found.items(), key=lambda item: -len(item[1]))[:stories]:
        seed, path, pair = hits[0]
        print(f"\n{name}: oracle {words[0]}, program {words[1]}, {len(hits)} times; seeds {[h[0] for h in hits[:8]]}")
        print(f"  seed {seed}, {path}: oracle {pair[0]}, program {pair[1]}")
        for line in story(executable, seed, path, pair):
            print("    " + line)
