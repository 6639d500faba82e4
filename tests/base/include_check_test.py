#!/usr/bin/env python3
"""The include check must fail on a forbidden include, and pass on the tree as it is."""
import pathlib
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).parents[2]
CHECK = ROOT / "scripts" / "check_includes.py"


def run(tree):
    return subprocess.run([sys.executable, str(CHECK), str(tree)], capture_output=True, text=True)


class IncludeCheck(unittest.TestCase):
    def broken(self, room, line):
        with tempfile.TemporaryDirectory() as folder:
            file = pathlib.Path(folder) / "src" / room / "x.h"
            file.parent.mkdir(parents=True)
            file.write_text(line + "\n")
            return run(folder)

    def test_the_tree_keeps_the_law(self):
        result = run(ROOT)
        self.assertEqual(result.returncode, 0, result.stdout)

    def test_the_judge_may_not_see_the_patient(self):
        result = self.broken("measurement", '#include "patient/types.h"')
        self.assertEqual(result.returncode, 1)
        self.assertIn("src/measurement/x.h:1: measurement may not include patient/types.h",
                      result.stdout)

    def test_other_forbidden_edges(self):
        for room, line in [("base", '#include "exam/types.h"'), ("reasoning", '#include "signal/audio.h"'),
                           ("measurement", '#include "acoustics/types.h"'),
                           ("patient", "#include <sndfile.h>"), ("teaching", "#include <soci/soci.h>"),
                           ("patient", "double x = std::exp(1.0);")]:
            self.assertEqual(self.broken(room, line).returncode, 1, (room, line))

    def test_allowed_edges(self):
        for room, line in [("acoustics", '#include "patient/types.h"'), ("app", '#include "records/x.h"'),
                           ("measurement", "double x = std::exp(1.0);")]:
            self.assertEqual(self.broken(room, line).returncode, 0, (room, line))


if __name__ == "__main__":
    unittest.main()
