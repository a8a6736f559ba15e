"""The list of fuzz targets is whole: `./check` does not build them, so that a slip in it would stay unseen."""
import tomllib
import unittest
from pathlib import Path

FUZZ = Path(__file__).resolve().parent.parent / "fuzz"


class Targets(unittest.TestCase):
    def setUp(self):
        self.listed = tomllib.loads((FUZZ / "Cargo.toml").read_text())["bin"]

    def test_each_file_is_listed_once_under_its_name(self):
        files = sorted(f"fuzz_targets/{f.name}" for f in (FUZZ / "fuzz_targets").glob("*.rs"))
        self.assertEqual(sorted(b["path"] for b in self.listed), files)
        for b in self.listed:
            self.assertEqual(b["path"], f"fuzz_targets/{b['name']}.rs")

    def test_each_has_something_to_start_from(self):
        for b in self.listed:
            seeds = list((FUZZ / "seeds" / b["name"]).iterdir())
            self.assertTrue(seeds, b["name"])


if __name__ == "__main__":
    unittest.main()
