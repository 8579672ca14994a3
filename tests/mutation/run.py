#!/usr/bin/env python3
"""How many wrong rules the tests of daemon/clinical notice.

    tests/mutation/run.py [--sample N] [--seed S] [--jobs J] [--build FOLDER] [--reuse]

Copies the tree into the build folder, puts every mutant into the copy (mutate.py), builds once, looks which test meets which mutant, and runs for each mutant
the tests that meet it until one fails; what they leave is asked of a short campaign of random cases. Prints the share that was noticed, by kind, and the survivors.
--sample: only so many, drawn by lot; the figure then has the error of a sample.
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
import shutil
import subprocess
import sys

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parent.parent


def copy_tree(to):
    shutil.rmtree(to, ignore_errors=True)
    for name in ('daemon', 'profiles', 'templates', 'tests'):
        shutil.copytree(ROOT / name, to / name, ignore=shutil.ignore_patterns('node_modules', 'var', '__pycache__', '.cache'), symlinks=True)
    shutil.copy(ROOT / 'CMakeLists.txt', to)
    shutil.copy(HERE / 'mutant.h', to / 'daemon/clinical')
    shutil.copy(HERE / 'listener_support.cpp', to / 'tests/clinical/mutation_support.cpp')


def build(folder, jobs):
    """The mutants that compile. A line that does not is taken back as it was and tried without its mutants."""
    without = set()
    for _ in range(8):
        copy_tree(folder / 'tree')
        listed = folder / 'mutants.json'
        subprocess.run([sys.executable, HERE / 'mutate.py', folder / 'tree/daemon/clinical', listed, *sorted(without)], check=True)
        subprocess.run(['cmake', '-S', folder / 'tree', '-B', folder / 'out', '-G', 'Ninja', '-DCMAKE_CXX_COMPILER_LAUNCHER=ccache', '-DCMAKE_BUILD_TYPE=None',
                        '-DCMAKE_CXX_FLAGS=-O1 -w', '-DAFTERSHEATH_WERROR=OFF', '-DAFTERSHEATH_TESTS=ON'], check=True, stdout=subprocess.DEVNULL)
        made = subprocess.run(['cmake', '--build', folder / 'out', '--target', 'clinical_test', 'campaign', '--', '-k0', f'-j{jobs}'], capture_output=True, text=True)
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


class Tests:
    def __init__(self, folder):
        self.binary, self.campaign, self.meets, self.time = folder / 'out/bin/clinical_test', folder / 'out/bin/campaign', collections.defaultdict(list), {}
        where = folder / 'met'
        where.unlink(missing_ok=True)
        subprocess.run([self.binary, '--gtest_brief=1'], env=os.environ | {'MUTANT_MAP': str(where)}, check=True)
        for line in where.read_text().splitlines():
            name, took, *met = line.split()
            self.time[name] = int(took)
            for number in met:
                self.meets[int(number)].append(name)

    def noticed(self, mutant):
        """How the mutant was noticed: by tests or by the campaign; '' when it was not, None when no test meets it."""
        env = os.environ | {'MUTANT': str(mutant['id'])}
        names = sorted(self.meets[mutant['id']], key=lambda n: self.time[n])
        for part in (names[:40], names[40:]):
            if part and self.fails([self.binary, '--gtest_brief=1', '--gtest_fail_fast', '--gtest_filter=' + ':'.join(part)], env):
                return 'tests'
        if self.fails([self.campaign, '--cases', '300', '--seed', '20260302', '--stop'], env):
            return 'campaign'
        return '' if names else None

    @staticmethod
    def fails(command, env):
        try:
            return subprocess.run(command, env=env, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL, timeout=40).returncode != 0
        except subprocess.TimeoutExpired:
            return True


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument('--sample', type=int)
    parser.add_argument('--seed', type=int, default=1)
    parser.add_argument('--jobs', type=int, default=os.cpu_count())
    parser.add_argument('--build', type=pathlib.Path, default=ROOT / 'build-mutation')
    parser.add_argument('--reuse', action='store_true', help='the build as it stands')
    args = parser.parse_args()
    args.build.mkdir(exist_ok=True)
    mutants = json.loads((args.build / 'mutants.json').read_text()) if args.reuse else build(args.build, args.jobs)
    tests = Tests(args.build)
    if tests.fails([tests.campaign, '--cases', '300', '--seed', '20260302', '--stop'], os.environ):
        sys.exit('mutation: the campaign fails without a mutant')
    if args.sample:
        mutants = sorted(random.Random(args.seed).sample(mutants, min(args.sample, len(mutants))), key=lambda m: m['id'])
    print(f'mutation: {len(mutants)} mutants', flush=True)
    with concurrent.futures.ThreadPoolExecutor(args.jobs) as pool:
        results = list(pool.map(tests.noticed, mutants))
    kinds, ways = collections.defaultdict(collections.Counter), collections.Counter(map(str, results))
    for mutant, result in zip(mutants, results):
        kinds[mutant['kind']][bool(result)] += 1
        if not result:
            print(f"survivor {mutant['id']} {mutant['file']}:{mutant['line']} {mutant['kind']}{'' if result == '' else ' (met by no test)'}: {mutant['code'][:150]}")
    total = sum(bool(r) for r in results)
    for kind, count in sorted(kinds.items()):
        print(f'  {kind:<10} {count[True]:>5} of {sum(count.values()):>5} noticed')
    share = total / len(results)
    error = f' +- {196 * math.sqrt(share * (1 - share) / len(results)):.1f}' if args.sample else ''
    print(f'mutation: {total} of {len(results)} noticed, {100 * share:.1f}{error} % ({ways["tests"]} by tests, {ways["campaign"]} by the campaign alone)')
    sys.exit(0 if share >= 0.9 else 1)


if __name__ == '__main__':
    main()
