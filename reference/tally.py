"""Counts what a reference check found, and closes with one line that `./check` adds up."""
import argparse
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


class Tally:
    """Passed, failed and skipped checks of one script; each is printed as it is decided."""

    def __init__(self):
        self.passed, self.failed, self.skipped = 0, 0, 0

    def check(self, ok, what, source):
        """One check, with the source of the expected value beside it."""
        if ok:
            self.passed += 1
        else:
            self.failed += 1
        print(f"{'pass' if ok else 'FAIL'}  {what}  [{source}]", flush=True)
        return bool(ok)

    def known_open(self, ok, what, source):
        """A check that is known to fail: counted as skipped, and as failed once it passes."""
        if ok:
            return self.check(False, f"{what}: passes now, take it off the list of what is open", source)
        self.skip(what, "known to be open")
        return False

    def skip(self, what, why):
        """A check that cannot run here, by name."""
        self.skipped += 1
        print(f"skip  {what}: {why}", flush=True)

    def close(self):
        """Prints the count and gives the exit status."""
        print(f"{self.passed} passed, {self.failed} failed, {self.skipped} skipped", flush=True)
        return 1 if self.failed or self.passed + self.skipped == 0 else 0


def arguments(description):
    """What every reference check understands."""
    parser = argparse.ArgumentParser(description=description)
    parser.add_argument("--setapart", type=Path, default=os.environ.get("SETAPART_BINARY"),
                        help="the binary under test (default: $SETAPART_BINARY)")
    parser.add_argument("--out", type=Path, default=Path(os.environ.get("SETAPART_REFERENCE_OUT", "reference-out")),
                        help="folder for tables and pictures (default: $SETAPART_REFERENCE_OUT)")
    return parser


def reference_data():
    """Where public data that is never committed lies."""
    return Path(os.environ.get("SETAPART_REFERENCE_DATA", ROOT.parent / "shared"))


def run(binary, *args, stdin=None):
    """Runs the binary; its output as text. A failing run raises with what it said."""
    if binary is None:
        sys.exit("name the binary with --setapart or SETAPART_BINARY")
    done = subprocess.run([str(binary), *map(str, args)], input=stdin, capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise RuntimeError(f"{Path(binary).name} {' '.join(map(str, args))} gave status {done.returncode}: {done.stderr.strip()}")
    return done
