"""Puts switchable mutants into a copy of daemon/clinical.

Every place where one could write the rule a little wrong becomes a call of mutant.h with a number of its own; the environment variable MUTANT chooses the one
that is wrong. So one build holds them all. Kinds: relation (< as <=, == as !=), clause (one side of && or || left out), condition (an if the other way round),
sum (+ as -), extreme (max as min), truth (true as false), statement (an assignment or call left out).
No mutants, for they are the same program: a reserve() left out (memory, no value); a sum of things that have no difference of the same kind (an iterator and a
number; run.py drops those that the compiler left out).
Each file has a block of numbers of its own, so that a change in one leaves the others as they were built.

    mutate.py FOLDER OUT.json [FILE:LINE...]     rewrites FOLDER/*.cpp and *.h in place and lists the mutants; none on the lines that are named
"""
import json
import pathlib
import re
import sys

BLOCK = 64   # numbers: a file has as many whole blocks as it needs, and room for some more
SAME = re.compile(r'[.\w>-]*\breserve\(')   # statements that change no value
SKIP = {'names.cpp', 'names.h', 'change_key.cpp'}   # tables of names and their writing; other folders' tests hold them
OPEN, CLOSE = '([{', ')]}'


def masked(text):
    """The text with comments and preprocessor lines as blanks, strings and characters as words of the same length."""
    def blank(match):
        found = match.group()
        word = found[0] in '"\'R'
        return '_' * len(found) if word and '\n' not in found else re.sub(r'[^\n]', ' ', found)
    return re.sub(r'//[^\n]*|/\*.*?\*/|R"\(.*?\)"|"(?:\\.|[^"\\\n])*"|\'(?:\\.|[^\'\\\n])\'|^[ \t]*#[^\n]*', blank, text, flags=re.S | re.M)


def operand(code, at, step):
    """Where the operand that begins (step 1) or ends (step -1) at `at` ends: at a clause, comma or bracket of its own depth."""
    depth = 0
    while 0 <= at < len(code):
        c = code[at]
        if c in (OPEN if step == 1 else CLOSE):
            depth += 1
        elif c in (CLOSE if step == 1 else OPEN):
            if depth == 0:
                return at
            depth -= 1
        elif depth == 0:
            pair = code[at:at + 2] if step == 1 else code[at - 1:at + 1]
            if pair in ('&&', '||') or c in ',;?' or (c == ':' and '::' not in code[at - 1:at + 2]):
                return at
            if c == '=' and code[at - 1] not in '=!<>' and code[at + 1] != '=':
                return at
            if step == -1 and re.match(r'return\b', code[max(0, at - 5):at + 1]):
                return at
        at += step
    return None


class Mutator:
    def __init__(self, path, text, first, without):
        self.path, self.text, self.code, self.next, self.without = path, text, masked(text), first, without
        self.edits, self.mutants = [], []

    def add(self, kind, at, edits, part=''):
        line = self.text.count('\n', 0, at) + 1
        if f'{self.path.name}:{line}' in self.without:
            return
        number = self.next
        self.next += 1
        self.mutants.append({'id': number, 'file': self.path.name, 'line': line, 'kind': kind, 'part': ' '.join(part.split()),
                             'code': self.text.splitlines()[line - 1].strip()})
        self.edits += edits(number)   # (from, to, text before, text after), or (from, to, text instead)

    def relations(self):
        for m in re.finditer(r' (<=|>=|<|>|==|!=) ', self.code):
            before = self.code[:m.start()]
            if re.search(r'(template|operator)\s*$', before) or 'operator' in before.splitlines()[-1][-30:] or 'static_assert' in before.splitlines()[-1]:
                continue
            self.add('relation', m.start(), lambda n, m=m: [(*m.span(1), chain(m.group(1) if m.group(1) in ('==', '!=') else '<', NAMES[m.group(1)], n))], around(self.text, m))

    def clauses(self):
        for m in re.finditer(r'(?<=[\s)])(&&|\|\|)(?=[\s])', self.code):
            if self.code[m.start() - 1] != ' ' and self.code[m.start() - 1] != '\n':
                continue
            neutral = 'yes' if m.group(1) == '&&' else 'no'
            right_from = m.end() + len(self.code[m.end():]) - len(self.code[m.end():].lstrip())
            right_to = operand(self.code, m.end(), 1)
            left_to = m.start() - (len(self.code[:m.start()]) - len(self.code[:m.start()].rstrip()))
            left_end = operand(self.code, m.start() - 1, -1)
            if right_to is None or left_end is None:
                continue
            self.wrap(neutral, right_from, right_to)
            left_from = left_end + 1
            left_from += len(self.code[left_from:]) - len(self.code[left_from:].lstrip())
            if left_from >= left_to or re.match(r'(if|while|return|const|auto|bool|co_return)\b', self.code[left_from:]):
                continue
            if self.code[left_end - 1:left_end + 1] in ('&&', '||'):
                continue   # the right side of the one before
            self.wrap(neutral, left_from, left_to)

    def wrap(self, neutral, start, end):
        while end > start and self.code[end - 1].isspace():
            end -= 1
        self.add('clause', start, lambda n: [(start, end, f'mutant::{neutral}<{n}>([&]() -> bool {{ return bool(', '); })')], self.text[start:end])

    def conditions(self):
        for m in re.finditer(r'\bif \(', self.code):
            start = m.end()
            end = operand_to_bracket(self.code, start)
            inside = self.code[start:end]
            if ';' in inside or re.match(r'\s*(const |auto|constexpr)', inside) or self.code[m.start() - 1] == '_' or 'constexpr' in self.code[m.start():start]:
                continue
            if re.search(r'(?<![=!<>])=(?!=)', re.sub(r'\[.*?\]', '', inside)):
                continue
            self.add('condition', m.start(), lambda n, s=start, e=end: [(s, e, f'mutant::flip<{n}>(bool(', '))')], inside)

    def sums(self):
        for m in re.finditer(r' ([+-]) ', self.code):
            line = self.text[self.text.rfind('\n', 0, m.start()) + 1:self.text.find('\n', m.start())]
            if re.search(r'"|string|name_of|reserve\(', line):
                continue   # words are put together or room is made, nothing is reckoned
            self.add('sum', m.start(), lambda n, m=m: [(*m.span(1), chain(m.group(1), 'plus' if m.group(1) == '+' else 'minus', n))], around(self.text, m))

    def extremes(self):
        for m in re.finditer(r'std::(max|min)(?=\(|<)', self.code):
            if self.code[m.end()] == '<' or self.code[m.end():m.end() + 2] == '({':
                continue
            self.add('extreme', m.start(), lambda n, m=m: [(*m.span(), f'mutant::{m.group(1)}imum<{n}>')], around(self.text, m))

    def truths(self):
        for m in re.finditer(r'\breturn (true|false);', self.code):
            self.add('truth', m.start(), lambda n, m=m: [(*m.span(1), f'mutant::flip<{n}>(', ')')])

    def statements(self):
        for m in re.finditer(r'^( +)((?:[a-z_]\w*(?:\(\))?(?:\.|->))*[a-z_]\w*(?:\.|->)?(?:push_back|emplace_back|insert|reset|clear|erase|still|note|\w+)\([^\n{}]*\)|[a-z_][\w.>()\[\]-]*(?:\.|->|_)\w* ?(?:[+|&]?=) [^\n{}=]*|[a-z_]\w*_ (?:[+|&]?=) [^\n{}]*);$', self.code, re.M):
            statement = m.group(2)
            if SAME.match(statement):
                continue
            if re.match(r'(return|using|const|auto|static|if|for|else|while|case|default|break|continue|throw|delete|do|namespace|friend|template|typename|struct|class|enum)\b', statement):
                continue
            previous = self.code[:m.start()].rstrip()
            if not previous or previous[-1] not in ';{}:)' or re.search(r'\b(struct|class)\b[^{};]*\{\s*$', previous):
                continue
            if previous[-1] == ')' and not re.search(r'\b(if|for|while) \([^\n]*\)$', previous.splitlines()[-1]):
                continue
            if self.path.suffix == '.h' or re.match(r'[a-z_]\w*\([^()]*\) *$', statement) is None and '(' not in statement and '=' not in statement:
                continue
            self.add('statement', m.start(2), lambda n, m=m: [(m.start(2), m.end(), f'if (!mutant::off<{n}>()) {{ ', ' }')], self.text[m.start(2):m.end()])

    def result(self):
        pieces = []   # (place, order, length cut, text): at one place what ends comes first, the inner before the outer; what begins, the outer first
        for start, end, *texts in self.edits:
            if len(texts) == 1:
                pieces.append((start, (1, 0), end - start, texts[0]))
            else:
                pieces.append((start, (1, -end), 0, texts[0]))
                pieces.append((end, (0, -start), 0, texts[1]))
        text, at = '', 0
        for place, _, cut, insert in sorted(pieces):
            text += self.text[at:place] + insert
            at = place + cut
        text += self.text[at:]
        first = text.index('#include') if '#include' in text else text.index('\n', text.index('#pragma once')) + 1
        return text[:first] + '#include "clinical/mutant.h"\n' + text[first:]


def chain(op, name, number):
    """a < b as a < less<7>{} < b: of the same precedence, so nothing around it changes."""
    return f'{op} mutant::{name}<{number}>{{}} {op}'


def around(text, match):
    """The code about an operator, to know it by."""
    line = text.rfind('\n', 0, match.start()) + 1
    return text[max(line, match.start() - 30):match.end() + 30].split('\n')[0]


NAMES = {'<': 'less', '<=': 'at_most', '>': 'greater', '>=': 'at_least', '==': 'equal', '!=': 'different'}


def operand_to_bracket(code, at):
    depth = 0
    while code[at] != ')' or depth:
        depth += (code[at] in OPEN) - (code[at] in CLOSE)
        at += 1
    return at


def main(folder, out, *without):
    mutants, first = [], 1
    for path in sorted(pathlib.Path(folder).iterdir()):
        if path.suffix not in ('.cpp', '.h') or path.name in SKIP | {'mutant.h'}:
            continue
        mutator = Mutator(path, path.read_text(), first, without)
        if 'constexpr' not in path.name:
            for find in (mutator.relations, mutator.clauses, mutator.conditions, mutator.sums, mutator.extremes, mutator.truths, mutator.statements):
                find()
        if mutator.mutants:
            path.write_text(mutator.result())
            mutants += mutator.mutants
            first += -(-(len(mutator.mutants) + 8) // BLOCK) * BLOCK
    pathlib.Path(out).write_text(json.dumps(mutants, indent=0))
    print(f'{len(mutants)} mutants')


if __name__ == '__main__':
    main(*sys.argv[1:])
