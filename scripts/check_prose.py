#!/usr/bin/env python3
"""The measure of the house's prose (CONTRIBUTING.md): no line of it over 120 characters, no table cell over 200.

Usage: scripts/check_prose.py [FILE ...]   (default: every Markdown file of the repository)
Exits 1 and names file, line and length. Tables and code blocks may be wider than 120; history pages keep their tables.
"""
import pathlib
import subprocess
import sys

LONGEST_LINE, LONGEST_CELL = 120, 200
# Pages that a program writes, and pages that do not keep the measure yet: take one out as soon as it does.
WRITTEN_BY_PROGRAM = ("docs/conditions/", "docs/sounds.md")
NOT_YET = ("CHANGELOG.md", "README.md", "THIRD_PARTY.md", "model/README.md", "training/README.md",
           "docs/validation/acoustics.md", "docs/validation/measurement.md", "docs/validation/patient.md",
           "docs/validation/trust.md")


def check(path: pathlib.Path, text: str) -> list[str]:
    errors = []
    is_code = False
    for number, line in enumerate(text.splitlines(), 1):
        if line.lstrip().startswith("```"):
            is_code = not is_code
        if is_code or line.startswith("    "):
            continue
        where = f"{path}:{number}"
        if line.lstrip().startswith("|"):
            longest = max(len(cell.strip()) for cell in line.strip().strip("|").split("|"))
            if longest > LONGEST_CELL:
                errors.append(f"{where}: a table cell of {longest} characters; at most {LONGEST_CELL}")
        elif len(line) > LONGEST_LINE and " " in line.strip()[:LONGEST_LINE]:
            errors.append(f"{where}: a line of {len(line)} characters; at most {LONGEST_LINE}")
    return errors


def main() -> int:
    root = pathlib.Path(__file__).resolve().parent.parent
    listed = subprocess.run(["git", "ls-files", "*.md"], cwd=root, capture_output=True, text=True, check=True)
    files = [pathlib.Path(name) for name in sys.argv[1:]] or [
        root / name for name in listed.stdout.split() if not name.startswith(WRITTEN_BY_PROGRAM + NOT_YET)]
    errors = []
    for path in files:
        if path.exists():
            errors += check(path, path.read_text(encoding="utf-8"))
    for error in errors:
        print(error.replace(f"{root}/", ""))
    if not errors:
        print(f"prose check: {len(files)} pages keep the measure")
    return 1 if errors else 0


if __name__ == "__main__":
    sys.exit(main())
