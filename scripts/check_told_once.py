#!/usr/bin/env python3
"""What the C++ tells, the pages do not tell again (docs/architecture.md).

Usage: scripts/check_told_once.py [ROOT]   (default: the repository)
Exits 1 and names file and line where web/src lists by hand deeds, aspects, sides, postures, rooms, clothing,
manoeuvres, sounds, phases, regions or findings' grounds, or reads the engine's numbers by their places. Such
lists come from web/src/generated/, which the build writes. tests/base/told_once_check_test.py proves that it
fails when it should.
"""
import pathlib
import re
import sys

# The tables of words in the C++: `kWords<exam::Side>{{{exam::Side::kRight, "right"}, ...`.
TABLE = re.compile(r"kWords<(?:\w+::)?(\w+)>\s*\{(.*?)\};", re.S)
WORD = re.compile(r'\{(?:\w+::)+k\w+,\s*"([^"]+)"\}')
DEEDS = re.compile(r"kDeedNames\{(.*?)\};", re.S)
SOURCES = ["src/exam/words.h", "src/bedside/words.h", "src/bedside/deed_fields.h", "src/bedside/steps.h"]
NOT_LISTED = {"Sex", "Presence"}  # two or three words each, that forms ask for
NUMBERS_READ_IN = "web/src/engine/module.ts"
# Amounts for drawing, one for each word: TypeScript demands that such a record be complete.
DRAWN = re.compile(r"Record<(?:Aspect|Posture), number> =\s*\{[^{}]*$")
COMMENT = re.compile(r"//[^\n]*|/\*.*?\*/", re.S)


def vocabularies(root: pathlib.Path) -> dict[str, set[str]]:
    out: dict[str, set[str]] = {}
    for name in SOURCES:
        text = (root / name).read_text(encoding="utf-8")
        for kind, body in TABLE.findall(text):
            out[kind] = set(WORD.findall(body))
        for body in DEEDS.findall(text):
            out["Deed"] = set(re.findall(r'"(\w+)"', body))
    return {kind: words for kind, words in out.items() if len(words) > 1 and kind not in NOT_LISTED}


def listed(words: set[str]) -> re.Pattern:
    """Two words of one table side by side: in a list, a union of types, or as keys of an object."""
    any_word = "|".join(sorted((re.escape(word) for word in words), key=len, reverse=True))
    quoted = rf"(?P<{{0}}>['\"])(?:{any_word})(?P={{0}})"
    in_list = quoted.format("a") + r"\s*[,|]\s*" + quoted.format("b")
    key = rf"['\"]?(?:{any_word})['\"]?\s*:\s*(?:'[^'\n]*'|\"[^\"\n]*\"|[\w.-]+|\[[^\]\n]*\])"
    as_keys = rf"[{{,]\s*{key}\s*,\s*{key}"
    return re.compile(f"{in_list}|{as_keys}")


def check(root: pathlib.Path) -> list[str]:
    errors = []
    patterns = {kind: listed(words) for kind, words in vocabularies(root).items()}
    for path in sorted((root / "web" / "src").rglob("*.ts*")):
        name = path.relative_to(root).as_posix()
        if "/generated/" in name or path.suffix not in {".ts", ".tsx"}:
            continue
        text = path.read_text(encoding="utf-8")
        code = COMMENT.sub(lambda match: re.sub(r"[^\n]", " ", match.group(0)), text)
        for kind, pattern in patterns.items():
            for match in pattern.finditer(code):
                if DRAWN.search(code[: match.start() + 1]):
                    continue
                line = code.count("\n", 0, match.start()) + 1
                errors.append(f"{name}:{line}: lists words of {kind} by hand: {' '.join(match.group(0).split())}; "
                              "take them from web/src/generated/bedside")
        if name != NUMBERS_READ_IN:
            for match in re.finditer(r"phren_state|phren_events", code):
                line = code.count("\n", 0, match.start()) + 1
                errors.append(f"{name}:{line}: reads the engine's numbers; {NUMBERS_READ_IN} does that, with the "
                              "places that the build writes")
    return errors


if __name__ == "__main__":
    tree = pathlib.Path(sys.argv[1]) if len(sys.argv) > 1 else pathlib.Path(__file__).parents[1]
    found = check(tree)
    for error in found:
        print(error)
    if not found:
        print("told-once check: the pages list nothing that the C++ tells")
    sys.exit(1 if found else 0)
