#!/usr/bin/env python3
"""The law of the house: which room may include which (docs/architecture.md).

Usage: scripts/check_includes.py [ROOT]   (default: the repository)
Exits 1 and names file, line and the broken rule if an include, or a call to a library the room may
not know, is forbidden. tests/base/include_check_test.py proves that it fails when it should.
"""
import pathlib
import re
import sys

MAY_INCLUDE = {
    "base": set(),
    "exam": {"base"},
    "signal": {"base"},
    "patient": {"base", "exam"},
    "acoustics": {"base", "exam", "signal", "patient"},
    "bedside": {"base", "exam", "signal", "patient", "acoustics"},
    "measurement": {"base", "exam", "signal"},
    "reasoning": {"base", "exam"},
    "teaching": {"base", "exam", "patient", "acoustics", "bedside", "reasoning"},
    "records": {"base", "exam", "bedside", "teaching"},
    "app": {"base", "exam", "signal", "patient", "acoustics", "bedside", "measurement", "reasoning",
            "teaching", "records"},
}
# Libraries that only some rooms may know.
LIBRARY_ROOMS = {
    r"sndfile": {"signal"},
    r"soci/": {"records"},
    r"sqlite3|libpq": {"records"},
    r"sodium": {"records", "app"},
    r"boost/(asio|beast)": {"app"},
    r"CLI/": {"app"},
}
# The patient and its sound must give the same bits everywhere: no libm, clocks or std random there.
DETERMINISTIC = {"patient", "acoustics"}
FORBIDDEN_CALLS = re.compile(
    r"std::(sin|cos|tan|exp|exp2|expm1|log|log2|log10|log1p|pow|tanh|sinh|cosh|atan2?|asin|acos|cbrt|hypot)f?\s*\("
    r"|std::(mt19937|random_device|normal_distribution|uniform_\w+_distribution)"
    r"|std::chrono|\brand\s*\(")
INCLUDE = re.compile(r'^\s*#\s*include\s*["<]([^">]+)[">]')


def check(root: pathlib.Path) -> list[str]:
    errors = []
    for path in sorted((root / "src").rglob("*")):
        if path.suffix not in {".h", ".cc"}:
            continue
        room = path.relative_to(root / "src").parts[0]
        if room not in MAY_INCLUDE:
            errors.append(f"{path.relative_to(root)}: '{room}' is not a room of the house")
            continue
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
            where = f"{path.relative_to(root)}:{number}"
            match = INCLUDE.match(line)
            if match:
                target = match.group(1)
                first = target.split("/")[0]
                if "/" in target and first in MAY_INCLUDE and first != room \
                        and first not in MAY_INCLUDE[room]:
                    allowed = ", ".join(sorted(MAY_INCLUDE[room])) or "only std"
                    errors.append(f"{where}: {room} may not include {target}; it may include: {allowed}")
                for pattern, rooms in LIBRARY_ROOMS.items():
                    if re.match(pattern, target) and room not in rooms:
                        errors.append(f"{where}: {room} may not include {target}; only "
                                      f"{', '.join(sorted(rooms))} may")
            code = line.split("//")[0]
            if room in DETERMINISTIC and FORBIDDEN_CALLS.search(code):
                errors.append(f"{where}: {room} must use base/det_math.h and base/random.h, so that "
                              "every platform gives the same bits")
    return errors


if __name__ == "__main__":
    tree = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parents[1]
    found = check(tree)
    for error in found:
        print(error)
    if not found:
        print("include check: every include keeps the law of the house")
    sys.exit(1 if found else 0)
