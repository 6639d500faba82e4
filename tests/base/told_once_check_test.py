#!/usr/bin/env python3
"""The told-once check must fail on a list written by hand, and pass on the tree as it is."""
import importlib.util
import pathlib
import shutil
import subprocess
import sys
import tempfile
import unittest

ROOT = pathlib.Path(__file__).parents[2]
CHECK = ROOT / "scripts" / "check_told_once.py"
TABLES = ["src/exam/words.h", "src/bedside/words.h", "src/bedside/deed_fields.h", "src/bedside/steps.h"]


spec = importlib.util.spec_from_file_location("check_told_once", CHECK)
told_once = importlib.util.module_from_spec(spec)
spec.loader.exec_module(told_once)


class ToldOnceCheck(unittest.TestCase):
    def checked(self, code, name="bedside/x.ts"):
        with tempfile.TemporaryDirectory() as folder:
            for table in TABLES:
                copy = pathlib.Path(folder) / table
                copy.parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(ROOT / table, copy)
            file = pathlib.Path(folder) / "web" / "src" / name
            file.parent.mkdir(parents=True)
            file.write_text(code + "\n")
            return told_once.check(pathlib.Path(folder))

    def test_the_tree_tells_once(self):
        result = subprocess.run([sys.executable, str(CHECK)], capture_output=True, text=True)
        self.assertEqual(result.returncode, 0, result.stdout)

    def test_each_kind_of_list_is_refused(self):
        for code in ["const deeds = ['place', 'lift'];", "type Aspect = 'front' | 'back';",
                     "const label = { right_side: 'right side', left_side: 'left side' };",
                     'const sides = ["right", "left"];', "const p = ['sitting', 'reclined', 'lying'];",
                     "const rooms = ['quiet', 'ward'];", "const thickness = { bare: 0, shirt: 0.35, jacket: 0.9 };",
                     "const sounds = ['wheeze',\n  'rhonchus'];", "const phases = ['inspiration', 'expiration'];",
                     "const regions = ['right upper lobe', 'right middle lobe'];",
                     "const kinds = { cough: 5, speak: 6 };", "const how = { seen: 'look', felt: 'feel' };"]:
            errors = self.checked(code)
            self.assertTrue(errors, code)
            self.assertTrue(errors[0].startswith("web/src/bedside/x.ts:1: lists words of"), errors)

    def test_places_of_the_state_are_refused(self):
        errors = self.checked("const n = new Float64Array(engine.memory.buffer, engine.phren_state(), 59);")
        self.assertIn("reads the engine's numbers", errors[0])

    def test_what_is_no_list_may_stand(self):
        for code in ["if (entry.do === 'lift') close();", "const first = 'front';", "// ['place', 'lift']",
                     "const lyingOf: Record<Posture, number> = { sitting: 0, reclined: 0.5, lying: 1 };",
                     "switch (aspect) {\n  case 'front':\n    return 1;\n  case 'back':\n    return 2;\n}"]:
            self.assertEqual(self.checked(code), [], code)
        self.assertEqual(self.checked("const deeds = ['place', 'lift'];", "generated/bedside.ts"), [])


if __name__ == "__main__":
    unittest.main()
