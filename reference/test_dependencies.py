"""The tool that judges licences and advisories, on cases with known answers."""
import json
import tomllib
import unittest
from pathlib import Path

import dependencies as d

RULES = tomllib.loads((Path(__file__).parent / "dependencies.toml").read_text())


def verdict(licence, name="some-crate"):
    return d.judge_licence({"name": name, "license": licence}, RULES)[0]


class Licences(unittest.TestCase):
    """Expressions as the SPDX specification defines them; which licences are allowed: dependencies.toml."""

    def test_a_choice_is_allowed_when_one_side_is(self):
        self.assertEqual(verdict("MIT OR GPL-3.0-only"), "ok")
        self.assertEqual(verdict("GPL-3.0-only OR (Zlib AND ISC)"), "ok")

    def test_a_sum_is_allowed_only_when_both_sides_are(self):
        self.assertEqual(verdict("(MIT OR Apache-2.0) AND Unicode-3.0"), "ok")
        self.assertEqual(verdict("MIT AND GPL-3.0-only"), "bad")

    def test_and_binds_tighter_than_or(self):
        self.assertEqual(d.parse("A OR B AND C"), ("or", "A", ("and", "B", "C")))
        self.assertEqual(verdict("MIT OR GPL-3.0-only AND AGPL-3.0-only"), "ok")
        self.assertEqual(verdict("GPL-3.0-only AND MIT OR AGPL-3.0-only"), "bad")

    def test_an_exception_does_not_make_a_bad_licence_good(self):
        self.assertEqual(verdict("Apache-2.0 WITH LLVM-exception"), "ok")
        self.assertEqual(verdict("GPL-2.0-only WITH LLVM-exception"), "bad")
        self.assertEqual(verdict("Apache-2.0 WITH Unknown-exception"), "bad")

    def test_the_old_slash_means_or(self):
        self.assertEqual(verdict("MIT/Apache-2.0"), "ok")
        self.assertEqual(verdict("GPL-3.0/AGPL-3.0"), "bad")

    def test_copyleft_of_the_file_is_allowed_and_noted(self):
        self.assertEqual(verdict("MPL-2.0"), "noted")
        self.assertEqual(verdict("MPL-2.0 OR MIT"), "ok")

    def test_a_missing_or_broken_licence_is_refused(self):
        for licence in (None, "", "SEE LICENSE IN FILE", "MIT OR", "(MIT", "MIT)", "AND MIT", "MIT WITH"):
            self.assertEqual(verdict(licence), "bad", licence)

    def test_a_clarified_crate_is_judged_by_what_was_read(self):
        rules = {**RULES, "clarify": {"odd": {"licence": "ISC", "read_in": "LICENSE"}}}
        self.assertEqual(d.judge_licence({"name": "odd", "license": None}, rules)[0], "ok")


class Versions(unittest.TestCase):
    """Order of versions: semver.org 2.0.0, item 11. Requirements: The Cargo Book, "Specifying Dependencies"."""

    def test_the_example_order_of_the_standard_holds(self):
        order = ["1.0.0-alpha", "1.0.0-alpha.1", "1.0.0-alpha.beta", "1.0.0-beta", "1.0.0-beta.2", "1.0.0-beta.11",
                 "1.0.0-rc.1", "1.0.0", "2.0.0", "2.1.0", "2.1.1"]
        self.assertEqual(sorted(reversed(order), key=d.version_key), order)

    def test_the_carets_of_the_cargo_book_hold(self):
        for requirement, inside, outside in [("^1.2.3", ["1.2.3", "1.9.0"], ["1.2.2", "2.0.0"]),
                                             ("^1", ["1.0.0", "1.99.0"], ["2.0.0"]),
                                             ("^0.2.3", ["0.2.3", "0.2.9"], ["0.3.0"]),
                                             ("^0.0.3", ["0.0.3"], ["0.0.4"]),
                                             ("^0.0", ["0.0.0", "0.0.9"], ["0.1.0"]),
                                             ("^0", ["0.0.0", "0.9.0"], ["1.0.0"]),
                                             ("~1.2.3", ["1.2.3", "1.2.9"], ["1.3.0"]),
                                             ("~1", ["1.0.0", "1.9.0"], ["2.0.0"]),
                                             ("1.2.3", ["1.2.3", "1.9.0"], ["2.0.0"])]:
            for version in inside:
                self.assertTrue(d.matches(version, requirement), f"{version} in {requirement}")
            for version in outside:
                self.assertFalse(d.matches(version, requirement), f"{version} in {requirement}")

    def test_all_comparators_of_a_requirement_count(self):
        self.assertTrue(d.matches("1.5.0", ">= 1.2, < 2"))
        self.assertFalse(d.matches("2.0.0", ">= 1.2, < 2"))
        self.assertTrue(d.matches("1.2.3", "= 1.2.3"))
        self.assertFalse(d.matches("1.2.3", "> 1.2.3"))
        self.assertTrue(d.matches("1.2.3", "<= 1.2.3"))


class Advisories(unittest.TestCase):
    ADVISORY = {"id": "RUSTSEC-0000-0000", "package": "leaky", "title": "leaks", "patched": [">= 1.2.3", "^1.0.5"],
                "unaffected": ["< 0.9"]}

    def held(self, version, advisory=None):
        return bool(d.held_advisories([{"name": "leaky", "version": version}], [advisory or self.ADVISORY]))

    def test_an_affected_version_is_found(self):
        self.assertTrue(self.held("1.0.4"))
        self.assertTrue(self.held("0.9.0"))
        self.assertTrue(self.held("1.0.0-rc.1"))

    def test_patched_and_unaffected_versions_pass(self):
        for version in ("1.2.3", "1.0.5", "2.0.0", "0.8.9"):
            self.assertFalse(self.held(version), version)

    def test_without_a_patched_version_every_version_is_affected(self):
        self.assertTrue(self.held("99.0.0", {"id": "x", "package": "leaky", "title": "t", "patched": []}))

    def test_a_withdrawn_advisory_holds_for_nothing(self):
        self.assertFalse(self.held("1.0.4", {**self.ADVISORY, "withdrawn": "2024-01-01"}))

    def test_the_check_fails_on_an_affected_version_unless_it_is_accepted(self):
        packages = [{"name": "leaky", "version": "1.0.4"}]
        snapshot = {"advisories": [self.ADVISORY], "crates_looked_up": [], "named_in_index": [], "taken": "x", "index_taken": "x"}
        for rules, failures in (({}, 2), ({"accepted": {"RUSTSEC-0000-0000": "never called"}}, 0)):
            count = d.tally.Tally()
            d.check_advisories(packages, snapshot, rules, count)
            self.assertEqual(count.failed, failures)

    def test_a_crate_that_the_index_names_must_have_been_looked_up(self):
        snapshot = {"advisories": [], "crates_looked_up": ["read"], "named_in_index": ["read", "unread"], "taken": "x", "index_taken": "x"}
        for name, failures in (("read", 0), ("unread", 2), ("elsewhere", 0)):
            count = d.tally.Tally()
            d.check_advisories([{"name": name, "version": "1.0.0"}], snapshot, {}, count)
            self.assertEqual(count.failed, failures, name)

    def test_every_advisory_of_the_snapshot_can_be_read(self):
        snapshot = json.loads((Path(__file__).parent / "advisories.json").read_text())
        self.assertTrue(snapshot["advisories"])
        for a in snapshot["advisories"]:
            self.assertIn(a["package"], snapshot["crates_looked_up"])
            self.assertIn(a.get("kind", "vulnerability"), ("vulnerability", "unsound", "unmaintained", "notice"))
            d.affects(a, "1.0.0")


if __name__ == "__main__":
    unittest.main()
