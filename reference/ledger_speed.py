#!/usr/bin/env python3
"""How long the choice of donors takes beside HiGHS, in one run, on the same set covers, one thread each.

Ours: `cargo bench -p ledger` on the files. HiGHS: highspy, the same program, gap 0. Prints times, ratios and versions; decides
nothing, since a busy machine proves nothing.

    python reference/ledger_speed.py [FILE...]     (default: SETAPART_REFERENCE_DATA/orlib and generated ones)
"""
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import highspy
import numpy as np

import ledger
import tally


def with_highs(path):
    numbers = list(map(int, Path(path).read_text().split()))
    rows, columns = numbers[:2]
    costs, at = np.array(numbers[2:2 + columns], float), 2 + columns
    solver = highspy.Highs()
    solver.silent()
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("mip_rel_gap", 0.0)
    solver.setOptionValue("time_limit", 300.0)
    every = np.arange(columns, dtype=np.int32)
    solver.addVars(columns, np.zeros(columns), np.ones(columns))
    solver.changeColsCost(columns, every, costs)
    solver.changeColsIntegrality(columns, every, np.array([highspy.HighsVarType.kInteger] * columns))
    for _ in range(rows):
        n = numbers[at]
        solver.addRow(1, highspy.kHighsInf, n, np.array(numbers[at + 1:at + 1 + n], dtype=np.int32) - 1, np.ones(n))
        at += 1 + n
    start = time.perf_counter()
    solver.run()
    return 1e3 * (time.perf_counter() - start), round(solver.getInfo().objective_function_value)


def main():
    with tempfile.TemporaryDirectory() as folder:
        files = [Path(f) for f in sys.argv[1:]] or sorted((tally.reference_data() / "orlib").glob("*.txt"))
        if len(sys.argv) == 1:
            for name, rows, columns, density, seed in [("like-5", 200, 2000, 0.02, 8), ("like-6", 200, 1000, 0.05, 9), ("like-6b", 200, 1000, 0.05, 10), ("like-a", 300, 3000, 0.02, 11)]:
                files.append(Path(folder) / f"{name}.txt")
                ledger.cover_file(files[-1], *ledger.generated(rows, columns, density, seed))
        call = ["cargo", "bench", "--quiet", "-p", "ledger", "--bench", "covers", "--", *map(str, files)]
        lines = subprocess.run(call, cwd=tally.ROOT, check=True, capture_output=True, text=True).stdout.splitlines()
        theirs = [with_highs(f) for f in files]
    print(f"HiGHS {highspy.Highs().version()}, one thread; ms")
    ratios = []
    for file, line, (ms, optimum) in zip(files, lines, theirs):
        own = json.loads(line)
        ratios.append(own["ms"] / ms)
        same = "the same optimum" if own["cost"] == optimum and own["proved"] else f"DIFFERS: {own['cost']} and {optimum}"
        print(f"{file.stem:10} ours {own['ms']:8.1f}   HiGHS {ms:8.1f}   ratio {ratios[-1]:5.2f}   {same}")
    print(f"geometric mean of the ratios {np.exp(np.mean(np.log(ratios))):.2f}")


if __name__ == "__main__":
    main()
