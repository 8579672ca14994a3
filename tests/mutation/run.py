#!/usr/bin/env python3
"""How many wrong rules the tests of daemon/clinical notice.

    tests/mutation/run.py [--sample N] [--seed S] [--jobs J] [--build FOLDER] [--reuse] [--only FILE...] [--minutes M]

Copies the tree into the build folder, puts every mutant into the copy (mutate.py), builds once, looks which test meets which mutant, and runs for each mutant
the tests that meet it until one fails; what they leave is asked of the oracle (tests/oracle) over a few hundred of its cases, then of a short campaign of random
cases under each shipped protocol. Prints the share that was noticed, by kind and by who noticed it, and the survivors: with their reason from survivors.txt
where there is one; "(seen)" where the plans of random cases differ, so that a test could notice it; "(met by no test)".
A survivor with a reason still counts as a survivor.
--sample: only so many, drawn by lot; the figure then has the error of a sample. --minutes: stops there, and the figure is of what was done by then.
"""
import argparse
import collections
import concurrent.futures
import json
import math
import os
import pathlib
import random
import re
import resource
import shutil
import subprocess
import sys
import time

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent
TARGETS = ('clinical_test', 'campaign', 'oracle_plan', 'seen')
SEED, ORACLE_CASES, CAMPAIGN_CASES, SEEN_CASES = 20260302, 400, 300, 400
CPU_SECONDS = 60   # a mutant that makes a loop without end

sys.path.insert(0, str(ROOT / 'tests/oracle'))
import compare  # noqa: E402
import facts  # noqa: E402
import fhir  # noqa: E402
import generate  # noqa: E402
import model_answer  # noqa: E402
import program  # noqa: E402


def copy_tree(to):
    shutil.rmtree(to, ignore_errors=True)
    for name in ('daemon', 'profiles', 'templates', 'tests'):
        shutil.copytree(ROOT / name, to / name, ignore=shutil.ignore_patterns('node_modules', 'var', '__pycache__', '.cache'), symlinks=True)
    shutil.copy(ROOT / 'CMakeLists.txt', to)
    shutil.copy(HERE / 'mutant.h', to / 'daemon/clinical')
    shutil.copy(HERE / 'listener_support.cpp', to / 'tests/clinical/mutation_support.cpp')
    with open(to / 'tests/CMakeLists.txt', 'a') as out:
        out.write('add_subdirectory(mutation)\n')


def build(folder, jobs):
    """The mutants that compile. A line that does not is taken back as it was and tried without its mutants."""
    without = set()
    for _ in range(8):
        copy_tree(folder / 'tree')
        listed = folder / 'mutants.json'
        subprocess.run([sys.executable, HERE / 'mutate.py', folder / 'tree/daemon/clinical', listed, *sorted(without)], check=True)
        # With assertions: what looks into an empty optional ends, and is noticed, instead of reading what happens to stand there.
        subprocess.run(['cmake', '-S', folder / 'tree', '-B', folder / 'out', '-G', 'Ninja', '-DCMAKE_CXX_COMPILER_LAUNCHER=ccache', '-DCMAKE_BUILD_TYPE=None',
                        '-DCMAKE_CXX_FLAGS=-O1 -w -D_GLIBCXX_ASSERTIONS', '-DAFTERSHEATH_WERROR=OFF', '-DAFTERSHEATH_TESTS=ON'], check=True, stdout=subprocess.DEVNULL)
        made = subprocess.run(['cmake', '--build', folder / 'out', '--target', *TARGETS, '--', '-k0', f'-j{jobs}'], capture_output=True, text=True)
        if made.returncode == 0:
            return json.loads(listed.read_text())
        bad = set(re.findall(r'daemon/clinical/([\w.]+):(\d+):\d+: (?:error|   required from)', made.stdout + made.stderr))
        (folder / 'build.log').write_text(made.stdout + made.stderr)
        more = {f'{name}:{int(line) - 1}' for name, line in bad} - without
        if not more:
            sys.exit(f'mutation: the mutated tree does not build, see {folder}/build.log')
        without |= more
        print(f'mutation: without {len(without)} lines that do not compile')
    sys.exit('mutation: gave up building')


def limited():
    resource.setrlimit(resource.RLIMIT_CPU, (CPU_SECONDS, CPU_SECONDS))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))


def output(command, env):
    """What the command prints; None when it fails."""
    done = subprocess.run(command, env=env, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, preexec_fn=limited)
    return done.stdout if done.returncode == 0 else None


class Oracle:
    """The cases, what the oracle says of them, and whether a mutant says anything else that is compared."""

    def __init__(self, folder):
        self.command = [folder / 'out/bin/oracle_plan', folder / 'facts.json', facts.text(facts.AS_OF)]
        self.cases = {f'c{seed}': generate.case(seed) for seed in range(SEED, SEED + ORACLE_CASES)}
        (folder / 'facts.json').write_text(json.dumps(fhir.bundle(self.cases)))
        self.ours = {key: model_answer.answer(case, facts.AS_OF) for key, case in self.cases.items()}
        self.plain = self.told(output(self.command, os.environ))
        wrong = [key for key in self.cases if self.differs(key, self.plain)]
        for key in wrong:   # a difference of its own tells nothing of a mutant
            del self.cases[key]
        print(f'mutation: the oracle knows {len(self.cases)} cases' + (f'; it differs in {wrong} without a mutant' if wrong else ''))

    @staticmethod
    def told(text):
        return {case['patient'].removeprefix('Patient/'): case for case in json.loads(text)['cases']}

    def differs(self, key, told):
        theirs = program.paths(self.cases[key], told.get(key))
        if theirs is None:
            return False
        ours = self.ours[key]
        compared = {p for p in {**ours.values, **theirs} if p in ours.values or any(p.startswith(f) for f in ours.families)}
        return any(not compare.same(p, ours.values.get(p), theirs.get(p)) for p in compared)

    def notices(self, env):
        text = output(self.command, env)
        if text is None:
            return True
        told = self.told(text)
        return any(told.get(key) != self.plain.get(key) and self.differs(key, told) for key in self.cases)


class Tests:
    def __init__(self, folder):
        self.binary, self.meets, self.time = folder / 'out/bin/clinical_test', collections.defaultdict(list), {}
        campaign = [folder / 'out/bin/campaign', '--seed', str(SEED), '--stop', '--cases']
        early = ROOT / 'profiles/protocol/early-walk.toml'
        self.campaigns = {'campaign': [*campaign, str(CAMPAIGN_CASES)], 'early campaign': [*campaign, str(CAMPAIGN_CASES // 2), '--protocol', early]}
        self.oracle = Oracle(folder)
        self.seen = [folder / 'out/bin/seen', str(SEEN_CASES), '1']
        self.plain = output(self.seen, os.environ)
        where = folder / 'met'
        where.unlink(missing_ok=True)
        subprocess.run([self.binary, '--gtest_brief=1'], env=os.environ | {'MUTANT_MAP': str(where)}, check=True)
        for line in where.read_text().splitlines():
            name, took, *met = line.split()
            if name == 'exist':
                self.exist = {int(number) for number in met}
                continue
            self.time[name] = int(took)
            for number in met:
                self.meets[int(number)].append(name)
        for name, command in self.campaigns.items():
            if output(command, os.environ) is None:
                sys.exit(f'mutation: the {name} fails without a mutant')

    def noticed(self, mutant):
        """(who noticed it: tests, oracle or a campaign; '' nobody, what is to be said of a survivor)."""
        env = os.environ | {'MUTANT': str(mutant['id'])}
        names = sorted(self.meets[mutant['id']], key=lambda n: self.time[n])
        for part in (names[:40], names[40:]):
            if part and output([self.binary, '--gtest_brief=1', '--gtest_fail_fast', '--gtest_filter=' + ':'.join(part)], env) is None:
                return 'tests', ''
        if self.oracle.notices(env):
            return 'oracle', ''
        for name, command in self.campaigns.items():
            if output(command, env) is None:
                return name, ''
        return '', ('' if names else ' (met by no test)') + (' (seen)' if output(self.seen, env) != self.plain else '')


def reasons():
    """[(file, kind, a part of the code, why it survives)] from survivors.txt."""
    lines = (HERE / 'survivors.txt').read_text().splitlines()
    return [tuple(word.strip() for word in line.split(' | ')) for line in lines if line and not line.startswith('#')]


def reason_of(mutant, known):
    def fits(part):
        operand, _, line = part.partition(' :: ')
        return operand in (mutant['part'] or mutant['code']) and line in mutant['code'] and (not line or operand == mutant['part'])
    return next((why for file, kind, part, why in known if mutant['file'] == file and mutant['kind'] == kind and fits(part)), None)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument('--sample', type=int)
    parser.add_argument('--seed', type=int, default=1)
    parser.add_argument('--jobs', type=int, default=os.cpu_count())
    parser.add_argument('--build', type=pathlib.Path, default=ROOT / 'build-mutation')
    parser.add_argument('--reuse', action='store_true', help='the build as it stands')
    parser.add_argument('--only', nargs='+', default=[], help='mutants of these files, or these numbers')
    parser.add_argument('--minutes', type=float, default=math.inf, help='start no mutant after so many')
    args = parser.parse_args()
    args.build = args.build.resolve()
    args.build.mkdir(exist_ok=True)
    mutants = json.loads((args.build / 'mutants.json').read_text()) if args.reuse else build(args.build, args.jobs)
    tests = Tests(args.build)
    mutants = [m for m in mutants if m['id'] in tests.exist]
    if args.only:
        mutants = [m for m in mutants if m['file'] in args.only or str(m['id']) in args.only]
    if args.sample:
        mutants = random.Random(args.seed).sample(mutants, min(args.sample, len(mutants)))
    print(f'mutation: {len(mutants)} mutants', flush=True)
    end = time.monotonic() + args.minutes * 60
    with concurrent.futures.ThreadPoolExecutor(args.jobs) as pool:
        results = list(pool.map(lambda m: tests.noticed(m) if time.monotonic() < end else None, mutants))
    tell([(m, r) for m, r in zip(mutants, results) if r], sampled=args.sample or None in results)


def tell(told, sampled):
    kinds, ways, known, without_reason = collections.defaultdict(collections.Counter), collections.Counter(), reasons(), 0
    for mutant, (way, about) in sorted(told, key=lambda t: t[0]['id']):
        kinds[mutant['kind']][bool(way)] += 1
        ways[way] += 1
        if way:
            continue
        why = reason_of(mutant, known)
        without_reason += why is None
        print(f"survivor {mutant['id']} {mutant['file']}:{mutant['line']} {mutant['kind']}{about} [{mutant['part'][:90]}] {'-- ' + why if why else mutant['code'][:150]}")
    for kind, count in sorted(kinds.items()):
        print(f'  {kind:<10} {count[True]:>5} of {sum(count.values()):>5} noticed')
    total = len(told) - ways['']
    share = total / len(told)
    error = f' +- {196 * math.sqrt(share * (1 - share) / len(told)):.1f}' if sampled else ''
    by = ', '.join(f'{ways[way]} by the {way}' for way in ('tests', 'oracle', 'campaign', 'early campaign'))
    print(f'mutation: {total} of {len(told)} noticed, {100 * share:.1f}{error} % ({by}); of the {ways[""]} survivors {without_reason} have no reason in survivors.txt')
    sys.exit(0 if share >= 0.9 else 1)


if __name__ == '__main__':
    main()
