"""Licences, sources and advisories of every crate in Cargo.lock, without the network.

Licences come from `cargo metadata --offline --locked` and are judged by dependencies.toml. Advisories come
from advisories.json, a snapshot of the RustSec advisory database (CC0-1.0): the advisories of the crates that
were looked up, and the names of all crates that an older index of the database has. A crate that we lock and
the index names must be looked up. Only Python's own library is used.
"""
import json
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import tally

HERE = Path(__file__).resolve().parent

# ---- licences: SPDX expressions (SPDX specification, annex "SPDX license expressions") ----


def parse(expression):
    """The expression as nested tuples ("or", a, b), ("and", a, b) or a name; AND binds tighter than OR.

    A slash is the form that crates used before SPDX expressions and means OR.
    """
    tokens = re.findall(r"[()]|[^\s()]+", expression.replace("/", " OR "))
    position = 0

    def peek():
        return tokens[position] if position < len(tokens) else None

    def take():
        nonlocal position
        position += 1
        return tokens[position - 1]

    def either():
        left = both()
        while peek() and peek().upper() == "OR":
            take()
            left = ("or", left, both())
        return left

    def both():
        left = one()
        while peek() and peek().upper() == "AND":
            take()
            left = ("and", left, one())
        return left

    def one():
        token = peek()
        if token is None or token == ")" or token.upper() in ("AND", "OR", "WITH"):
            raise ValueError(f"{expression!r} is no SPDX expression")
        if take() == "(":
            inner = either()
            if peek() != ")":
                raise ValueError(f"{expression!r} lacks a closing bracket")
            take()
            return inner
        if peek() and peek().upper() == "WITH":
            take()
            if peek() is None:
                raise ValueError(f"{expression!r} lacks an exception after WITH")
            return ("with", token, take())
        return token

    tree = either()
    if peek() is not None:
        raise ValueError(f"{expression!r} does not end where an expression ends")
    return tree


def allowed(tree, names, exceptions):
    """Does the expression leave us a choice that is allowed?"""
    if isinstance(tree, str):
        return tree.removesuffix("+") in names
    kind, a, b = tree
    if kind == "with":
        return a in names and b in exceptions
    if kind == "or":
        return allowed(a, names, exceptions) or allowed(b, names, exceptions)
    return allowed(a, names, exceptions) and allowed(b, names, exceptions)


def judge_licence(package, rules):
    """("ok" | "noted" | "bad", what it says)."""
    clarified = rules.get("clarify", {}).get(package["name"])
    expression = clarified["licence"] if clarified else package.get("license")
    if not expression:
        return "bad", "states no licence in its manifest"
    try:
        tree = parse(expression)
    except ValueError as problem:
        return "bad", str(problem)
    names, exceptions = set(rules["allow"]), set(rules.get("exceptions", []))
    if allowed(tree, names, exceptions):
        return "ok", expression
    if allowed(tree, names | set(rules.get("allow_noted", [])), exceptions):
        return "noted", expression
    return "bad", f"{expression} is not on the list of allowed licences"


# ---- advisories: Cargo's version requirements (semver.org 2.0.0; The Cargo Book, "Specifying Dependencies") ----


def version_key(text):
    """Sorts versions: a pre-release comes before its release; build metadata does not count."""
    core, _, pre = text.split("+")[0].partition("-")
    numbers = [int(n) for n in core.split(".")]
    parts = [(0, int(p), "") if p.isdigit() else (1, 0, p) for p in pre.split(".")] if pre else []
    return (*(numbers + [0, 0, 0])[:3], 0 if pre else 1, parts)


def bounds(comparator):
    """A comparator as (low, low is in, high, high is in); None is open."""
    operator, text = re.fullmatch(r"\s*(>=|<=|>|<|=|\^|~)?\s*([0-9][^\s]*)\s*", comparator).groups()
    given = [int(n) for n in text.split("+")[0].partition("-")[0].split(".") if n.isdigit()]
    key = version_key(text.replace(".*", ""))

    def bumped(place):
        return version_key(".".join(str(n) for n in [*given[:place], given[place] + 1]))

    if operator == ">=":
        return key, True, None, False
    if operator == ">":
        return key, False, None, False
    if operator == "<=":
        return None, False, key, True
    if operator == "<":
        return None, False, key, False
    if operator == "=" and len(given) == 3:
        return key, True, key, True
    if operator == "=":
        return key, True, bumped(len(given) - 1), False
    if operator == "~":
        return key, True, bumped(min(1, len(given) - 1)), False
    first = next((i for i, n in enumerate(given) if n), len(given) - 1)     # caret: the first part that is not 0
    return key, True, bumped(first), False


def matches(version, requirement):
    """Does a version satisfy all comparators of a requirement such as `>= 1.2, < 2`?"""
    key = version_key(version)
    for comparator in requirement.split(","):
        low, low_in, high, high_in = bounds(comparator)
        if low is not None and not (key > low or (low_in and key == low)):
            return False
        if high is not None and not (key < high or (high_in and key == high)):
            return False
    return True


def affects(advisory, version):
    """An advisory holds for every version that it does not call patched or unaffected."""
    safe = [*advisory.get("patched", []), *advisory.get("unaffected", [])]
    return not advisory.get("withdrawn") and not any(matches(version, r) for r in safe)


def held_advisories(packages, advisories):
    """(package, advisory) for each locked version that an advisory holds for."""
    by_crate = {}
    for advisory in advisories:
        by_crate.setdefault(advisory["package"], []).append(advisory)
    return [(p, a) for p in packages for a in by_crate.get(p["name"], []) if affects(a, p["version"])]


# ---- the check ----


def locked_packages():
    """Every package of Cargo.lock, for all platforms, that is not our own."""
    text = subprocess.run(["cargo", "metadata", "--offline", "--locked", "--format-version", "1"], cwd=tally.ROOT,
                          capture_output=True, text=True)
    if text.returncode != 0:
        sys.exit(f"cargo metadata: {text.stderr.strip()}\nrun `cargo fetch --locked` once where there is a network")
    data = json.loads(text.stdout)
    own = set(data["workspace_members"])
    return sorted((p for p in data["packages"] if p["id"] not in own), key=lambda p: (p["name"], version_key(p["version"])))


def check_licences(packages, rules, count):
    bad = 0
    for p in packages:
        name = f"{p['name']} {p['version']}"
        verdict, said = judge_licence(p, rules)
        if verdict == "noted":
            print(f"note  {name}: {said}: copyleft of the file, used unchanged")
        if verdict == "bad":
            bad += 1
            count.check(False, f"{name}: {said}", "SPDX licence list")
        if p.get("source") not in rules["sources"]:
            bad += 1
            count.check(False, f"{name}: comes from {p.get('source') or 'a folder outside the workspace'}", "dependencies.toml")
    count.check(not bad, f"{len(packages)} crates: licences and sources allowed", "cargo metadata, SPDX licence list")


def check_fonts(count):
    """Every font that is part of the repository lies beside the text of the SIL Open Font License."""
    listed = subprocess.run(["git", "ls-files"], cwd=tally.ROOT, capture_output=True, text=True, check=True).stdout.splitlines()
    fonts = [f for f in listed if Path(f).suffix.lower() in (".ttf", ".otf", ".woff", ".woff2")]
    bare = [f for f in fonts if "SIL OPEN FONT LICENSE" not in licence_beside(f).upper()]
    count.check(not bare, f"{len(fonts)} fonts lie beside their licence ({', '.join(bare) or 'all'})", "SIL Open Font License 1.1")


def licence_beside(font):
    path = (tally.ROOT / font).parent / "OFL.txt"
    return path.read_text() if path.exists() else ""


def check_advisories(packages, snapshot, rules, count):
    accepted = rules.get("accepted", {})
    hurting = 0
    for p, a in held_advisories(packages, snapshot["advisories"]):
        said = f"{p['name']} {p['version']}: {a['id']} {a['title']}"
        if a["id"] in accepted:
            print(f"note  {said}: accepted, {accepted[a['id']]}")
        elif a.get("kind", "vulnerability") in ("unmaintained", "notice"):
            print(f"note  {said} ({a['kind']})")
        else:
            hurting += 1
            count.check(False, said, "RustSec advisory database")
    names = {p["name"] for p in packages}
    looked_up = set(snapshot["crates_looked_up"])
    unread = sorted(names & set(snapshot["named_in_index"]) - looked_up)
    for name in unread:
        count.check(False, f"{name} has advisories that nobody has read yet: add them to advisories.json", "RustSec index of packages")
    count.check(not hurting and not unread, f"no locked version has a known vulnerability, as of {snapshot['taken']}", "RustSec advisory database")
    print(f"note  {len(names & looked_up)} of {len(names)} crates were looked up one by one; the others were not in the index of "
          f"{snapshot['index_taken']}, newer advisories on them are not known here")


def note_duplicates(packages):
    versions = {}
    for p in packages:
        versions.setdefault(p["name"], []).append(p["version"])
    for name, all_of_them in versions.items():
        if len(all_of_them) > 1:
            print(f"note  {name} is locked in {len(all_of_them)} versions: {', '.join(all_of_them)}")


def main():
    rules = tomllib.loads((HERE / "dependencies.toml").read_text())
    snapshot = json.loads((HERE / "advisories.json").read_text())
    packages = locked_packages()
    count = tally.Tally()
    check_licences(packages, rules, count)
    check_fonts(count)
    check_advisories(packages, snapshot, rules, count)
    note_duplicates(packages)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
