#!/usr/bin/env python3
"""Fails when a file in daemon/ uses something its folder may not know.

Usage: check_layers.py DAEMON_FOLDER
The folder-to-folder edges are read from DAEMON_FOLDER/CMakeLists.txt, so that the build and this check cannot disagree.
"""
import pathlib
import re
import sys

FOLDER = re.compile(r"^daemon_folder\((\w+)(?:\s+MAY_USE\s+([^)]*))?\)", re.M)
INCLUDE = re.compile(r'^\s*#\s*include\s*"([^"]+)"')
# what, how it looks in code, the only folders that may use it
RESERVED = [
    ("Boost.Asio or Beast", r"<boost/(asio|beast)", {"transport", "app"}),
    ("RapidJSON", r"<rapidjson/", {"json"}),
    ("toml++", r"<toml\+\+", {"tables"}),
    ("SQLite or libpq", r"<(sqlite3|libpq-fe|pqxx)", {"store"}),
    ("libharu", r"<hpdf", {"sheet"}),
    ("libcups", r"<cups/", {"print"}),
    ("files and threads", r"<(fstream|filesystem|thread|mutex|condition_variable)>",
     {"tables", "profile", "words", "fhir_read", "sheet", "store", "transport", "auth", "print", "app"}),
    ("a wall clock", r"(system_clock|utc_clock)::now|\btime\s*\(\s*(NULL|nullptr|0)\s*\)", {"app"}),
    ("the environment", r"\bgetenv\s*\(", {"app"}),
]


def edges_of(daemon):
    return {name: set((uses or "").split()) for name, uses in FOLDER.findall((daemon / "CMakeLists.txt").read_text())}


def order_faults(edges):
    above = set()
    for name, uses in edges.items():
        for late in sorted(uses - above):
            yield f"daemon/CMakeLists.txt: {name} may use only folders listed before it, not {late}"
        above.add(name)


def line_faults(at, here, line, edges):
    include = INCLUDE.match(line)
    if include:
        target = include[1].split("/")[0]
        if target not in edges:
            yield f'{at}: write includes from daemon/, as "folder/file.h"'
        elif target != here and target not in edges[here]:
            yield f"{at}: {here}/ may not include {target}/"
    code = line.split("//")[0]
    for what, look, folders in RESERVED:
        if here not in folders and re.search(look, code):
            yield f"{at}: {what}: only in {', '.join(sorted(folders))}"


def faults(daemon):
    edges = edges_of(daemon)
    yield from order_faults(edges)
    for path in sorted(p for p in daemon.rglob("*") if p.suffix in {".h", ".cpp", ".def"}):
        here = path.relative_to(daemon).parts[0]
        if here not in edges:
            yield f"daemon/{path.relative_to(daemon)}: no daemon_folder() names {here}"
            continue
        for number, line in enumerate(path.read_text().splitlines(), 1):
            yield from line_faults(f"daemon/{path.relative_to(daemon)}:{number}", here, line, edges)


if __name__ == "__main__":
    found = list(faults(pathlib.Path(sys.argv[1])))
    print("\n".join(found) or "layers: as daemon/CMakeLists.txt says")
    sys.exit(bool(found))
