#!/usr/bin/env python3
"""Every reader has a fuzz target: the types in tests/fuzz/readers are those of kReaders in daemon/fhir_read/read_record.cpp."""
import re
import sys
from pathlib import Path

root = Path(__file__).resolve().parents[2]
source = (root / "daemon/fhir_read/read_record.cpp").read_text()
table = source[source.index("kReaders[] = {"):]
read = re.findall(r'\{"(\w+)", read_\w+', table[:table.index("};")])
listed = (root / "tests/fuzz/readers").read_text().split()
if read != listed:
    sys.exit(f"tests/fuzz/readers has {set(listed) - set(read) or 'nothing'} too many and lacks {set(read) - set(listed) or 'nothing'}, or another order")
print(f"{len(listed)} readers, each with a fuzz target")
