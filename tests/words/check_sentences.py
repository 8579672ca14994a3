#!/usr/bin/env python3
"""Fails when the program names a sentence, word or label that templates/ does not have.

Usage: check_sentences.py SOURCE_FOLDER [LANGUAGE]      (default: en)
Every dotted name in quotes in the folders that speak must be a key of templates/<language>, a setting of the protocol, or (ending with a
dot) the beginning of one. The code of a Reason must be in [reason], and its sentence may use only arguments that are given there; files
that add arguments later are not judged on them.
"""
import pathlib
import re
import sys
import tomllib

SPEAKING = ["clinical", "words", "fhir_write", "sheet", "report", "app"]
DOTTED = re.compile(r'"@?([a-z][a-z0-9-]*(?:\.[a-z0-9-]+)+|[a-z][a-z0-9-]*(?:\.[a-z0-9-]+)*\.)"')
PREFIXES = {"sheet": "sheet."}  # sheet/say.h puts this before every name
RULES = {"clearance.cockcroft-gault", "hold.sum", "rest.sum", "rest.latest", "order.bed-rest", "order.sheath-removal", "step.refused"}  # names of rules, shown as they are
FILE_ENDINGS = (".toml", ".json", ".pdf", ".db", ".ttf", ".otf", ".csv", ".new", ".tmp")
REASON = re.compile(r'Reason\{\s*"([a-z0-9-]+(?:\.[a-z0-9-]+)+)"\s*,\s*\{')
ARGUMENT = re.compile(r'\{\s*"([a-z0-9-]+)"\s*,')
SLOT = re.compile(r"\{([A-Za-z][a-z0-9_-]*)(?::[a-z]+)?\}")
SETTING = re.compile(r'^S(?:ETTING|ERIES)\(\w+, "([^"]+)"', re.M)
CONFIGURATION = re.compile(r'(?:text|choice|path|number)\("([a-z]+\.[a-z_]+)"')


def flat(table, path=""):
    for key, value in table.items():
        whole = f"{path}.{key}" if path else key
        yield whole
        if isinstance(value, dict):
            yield from flat(value, whole)


def known_names(root, language):
    names = set(SETTING.findall((root / "daemon/clinical/settings.def").read_text()))
    names |= set(CONFIGURATION.findall((root / "daemon/profile/configuration_keys.cpp").read_text()))
    for file in sorted((root / "templates" / language).glob("*.toml")):
        for table in tomllib.loads(file.read_text()).values():
            names |= set(flat(table))
    return names


def reasons(root, language):
    """Every sentence of [reason] by its code, plural forms joined."""
    found = {}
    for file in sorted((root / "templates" / language).glob("*.toml")):
        table = tomllib.loads(file.read_text()).get("reason", {})
        stack = [("", table)]
        while stack:
            path, value = stack.pop()
            if isinstance(value, str) or "other" in value:
                found[path] = value if isinstance(value, str) else " ".join(value.values())
            else:
                stack += [(f"{path}.{k}" if path else k, v) for k, v in value.items()]
    return found


def up_to_closing_brace(text):
    depth = 1
    for i, c in enumerate(text):
        depth += (c == "{") - (c == "}")
        if depth == 0:
            return text[:i]
    return text


def reason_faults(path, at, sentences):
    text = path.read_text()
    for match in REASON.finditer(text):
        code, where = match[1], f"{at}:{text.count(chr(10), 0, match.start()) + 1}"
        if code not in sentences:
            yield f"{where}: reason '{code}' is not in [reason]; do: write the sentence there"
            continue
        given = set(ARGUMENT.findall(up_to_closing_brace(text[match.end():])))
        wanted = {name[0].lower() + name[1:] for name in SLOT.findall(sentences[code])}
        if wanted - given and "arguments.emplace_back" not in text and "arguments.push_back" not in text:
            yield f"{where}: the sentence of '{code}' asks for {', '.join(sorted(wanted - given))}; do: give it, or take it out of the sentence"


def is_known(name, prefix, known):
    if name in RULES or name.endswith(FILE_ENDINGS):
        return True
    if name.endswith("."):
        return any(k.startswith((name, prefix + name)) for k in known)
    return name in known or prefix + name in known


def main(root, language="en"):
    known = known_names(root, language)
    sentences = reasons(root, language)
    faults = []
    for folder in SPEAKING:
        for path in sorted((root / "daemon" / folder).glob("*.[ch]*")):
            faults += reason_faults(path, path.relative_to(root), sentences)
            for number, line in enumerate(path.read_text().splitlines(), 1):
                if line.lstrip().startswith(("#", "//")):
                    continue
                for name in DOTTED.findall(line.split(" //")[0]):
                    if not is_known(name, PREFIXES.get(folder, ""), known):
                        faults.append(f"{path.relative_to(root)}:{number}: '{name}' is not in templates/{language}; do: write the sentence there")
    print("\n".join(faults) or f"sentences: templates/{language} has every one that is named")
    return 1 if faults else 0


if __name__ == "__main__":
    sys.exit(main(pathlib.Path(sys.argv[1]), *sys.argv[2:]))
