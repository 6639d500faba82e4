#!/usr/bin/env python3
"""The program is built as Debian builds what faces the network: placed anywhere in memory, its tables read-only once it runs, stacks and copies watched.

Usage: hardening_test.py PHREN
What each flag leaves in an ELF file is read with readelf (binutils); the list is that of Debian's hardening page for `hardening=+all`.
"""
import re
import subprocess
import sys

failures = 0


def check(is_true, words):
    global failures
    failures += not is_true
    print(("  ok   " if is_true else "  FAIL ") + words)


def readelf(*arguments):
    return subprocess.run(["readelf", "-W", *arguments, sys.argv[1]], capture_output=True, text=True, check=True).stdout


def main():
    dynamic, header, segments, symbols = readelf("-d"), readelf("-h"), readelf("-l"), readelf("--dyn-syms")
    check("DYN (" in header and "PIE" in dynamic, "placed anywhere in memory (PIE)")
    check("GNU_RELRO" in segments, "tables read-only after relocation (RELRO)")
    check(re.search(r"BIND_NOW|FLAGS.*NOW", dynamic) is not None, "all symbols bound at the start (BIND_NOW)")
    check("__stack_chk_fail" in symbols, "stacks watched (stack protector)")
    checked = sorted(set(re.findall(r"__(\w+)_chk", symbols)) - {"stack"})
    check(len(checked) > 0, f"copies checked (FORTIFY): {', '.join(checked)}")
    stack = re.search(r"GNU_STACK\s.*?(RWE?)\s", segments)
    check(stack is not None and stack.group(1) == "RW", "no code on the stack")
    print("hardening:", "passed" if failures == 0 else f"{failures} failed")
    return 1 if failures else 0


if __name__ == "__main__":
    sys.exit(main())
