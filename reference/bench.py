#!/usr/bin/env python3
"""Speed and quality of the stages beside other programs, on one machine: writes docs/benchmarks.md.

    python reference/bench.py [--setapart BINARY] [--only SECTION...] [--page FILE]

Capturing beside OpenCV, arranging beside Graphviz, packing beside the best layouts published, the choice of donors beside
HiGHS; how each grows (parts 10 to 320, megapixels 3 to 100, revisions to 100,000), as the exponent of a power law by least
squares on logarithms. Every section is also kept as JSON in the folder of --out, and sections that are not asked for are taken
from there, so that one can be measured again. A busy machine proves nothing: stop everything else.
"""
import json
import math
import os
import platform
import re
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import highspy
import numpy as np

import arrange
import devices
import ledger_speed
import packing
import speed
import tally

MEGAPIXELS = (3, 6, 12, 24, 48, 100)
PARTS = (10, 20, 40, 80, 160, 320)
PACKING_SECONDS = 60
# The window's area over the parts'.
WINDOW_SHARE = 3.2


def exponent(sizes, values):
    """The power of the size with which the value grows."""
    return float(np.polyfit(np.log(sizes), np.log(values), 1)[0])


def bench(crate, name, *words):
    """What a bench target prints."""
    call = ["cargo", "bench", "--quiet", "-p", crate, "--bench", name, "--", *map(str, words)]
    return subprocess.run(call, cwd=tally.ROOT, check=True, capture_output=True, text=True).stdout.splitlines()


# ---- the sections: each measures and gives plain data ----

def capture(_args):
    sheet_path = speed.STUDIO / "test_sheet.json"
    sheet = json.loads(sheet_path.read_text())
    photo = cv2.imread(str(speed.STUDIO / "lamps.jpg"))
    full = photo.shape[0] * photo.shape[1] / 1e6
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        for megapixels in MEGAPIXELS:
            scale = math.sqrt(megapixels / full)
            how = cv2.INTER_AREA if scale < 1 else cv2.INTER_CUBIC
            path = Path(folder) / f"{megapixels}.jpg"
            cv2.imwrite(str(path), cv2.resize(photo, None, fx=scale, fy=scale, interpolation=how), [cv2.IMWRITE_JPEG_QUALITY, 92])
            theirs, steps = min((speed.with_opencv(path, sheet) for _ in range(speed.RUNS)), key=lambda r: r[0])
            # A process of its own for each, so that its peak memory is this photo's.
            lines = [json.loads(line) for line in bench("capture", "capture", sheet_path, path)]
            rows.append({"megapixels": megapixels, "opencv_ms": theirs, "opencv_steps": steps, "ours": lines[0],
                         "peak_memory": lines[-1].get("peak_memory", "")})
    return {"rows": rows, "exponent": exponent([r["megapixels"] for r in rows], [r["ours"]["total_ms"] for r in rows]),
            "opencv_exponent": exponent([r["megapixels"] for r in rows], [r["opencv_ms"] for r in rows])}


def arranging(args):
    if shutil.which("neato") is None:
        sys.exit("Graphviz is not installed (Debian: graphviz)")
    rows = []
    for n in PARTS:
        parts = devices.device(7, n)
        boxes = np.array(devices.exploded_boxes(parts))
        row = {"parts": n}
        for overlap in ("prism", "vpsc"):
            start = time.monotonic()
            end = arrange.neato(boxes, overlap)
            row[overlap] = {"s": time.monotonic() - start, "flipped": arrange.flipped(boxes[:, :2], end),
                            "cm2": float(np.prod(arrange.box_around(end, boxes[:, 2:]))) / 100}
        # A window of 4 to 5 with room for parts and captions.
        side = math.sqrt(WINDOW_SHARE * sum(arrange.outlines.polygon_of(p).area for p in parts) / 20)
        piece = devices.piece(parts, f"{n} parts", [4 * side + 40, 5 * side + 50])
        found, seconds = arrange.arrange_with(args.setapart, piece)
        row["ours"] = {"s": seconds, "cm2": float(np.prod(piece["frame"]["size_mm"])) / 100, "captions": len(found["captions"]),
                       "overlap_mm2": arrange.worst_overlap(arrange.shown_outlines(found))}
        rows.append(row)
    return {"rows": rows, "exponent": exponent(PARTS, [r["ours"]["s"] for r in rows]),
            "vpsc_exponent": exponent(PARTS, [r["vpsc"]["s"] for r in rows]), "moving": bench("arrange", "arrange")}


def packed(args):
    rows = []
    for name, record in packing.RECORDS.items():
        path = tally.reference_data() / "packing" / f"{name}.json"
        if not path.exists():
            continue
        start = time.monotonic()
        done = tally.run(args.setapart, "strip-fill", path, "--time", PACKING_SECONDS, "--json")
        answer = json.loads(done.stdout)
        wrong = packing.faults(json.loads(path.read_text()), answer)
        if wrong:
            sys.exit(f"{name}: {wrong[0]}")
        rows.append({"name": name, "record": record, "ours": 100 * answer["density"], "s": time.monotonic() - start})
    return {"rows": rows, "seconds": PACKING_SECONDS}


def donors(_args):
    done = subprocess.run([sys.executable, ledger_speed.__file__], check=True, capture_output=True, text=True)
    rows = []
    for found in re.finditer(r"^(\S+) +ours +(\S+) +HiGHS +(\S+) +ratio +(\S+) +(.*)$", done.stdout, re.M):
        rows.append({"name": found[1], "ours_ms": float(found[2]), "highs_ms": float(found[3]), "ratio": float(found[4]), "same": found[5]})
    return {"rows": rows, "mean": float(np.exp(np.mean([np.log(r["ratio"]) for r in rows])))}


def store(_args):
    """Saves and openings, by number of revisions, of the piece of 80 parts of 200 points."""
    lines = bench("workshop", "store", "long", "usual")
    head, rows = lines[0], []
    for line in lines[1:]:
        numbers = line.replace("x", " ").split()
        if len(numbers) < 12 or not numbers[0].isdigit():
            continue
        values = [float(v) for v in numbers]
        rows.append({"revisions": int(values[2]), "save_ms": values[3], "save_p95_ms": values[4], "open_ms": values[8], "undo_ms": values[10], "mb": values[12]})
    late = [r for r in rows if r["revisions"] >= 1000]
    sizes = [r["revisions"] for r in late]
    return {"head": head, "rows": rows, **{f"{k}_exponent": exponent(sizes, [r[k] for r in late]) for k in ("save_ms", "open_ms", "mb")}}


def whole(args):
    """The demo: wall clock of the best of three, and the size and start of the binary."""
    times = []
    for _ in range(3):
        with tempfile.TemporaryDirectory() as folder:
            start = time.monotonic()
            tally.run(args.setapart, "demo", Path(folder) / "out")
            times.append(time.monotonic() - start)
    starts = []
    for _ in range(20):
        start = time.monotonic()
        tally.run(args.setapart, "--version")
        starts.append(1e3 * (time.monotonic() - start))
    return {"demo_s": min(times), "start_ms": float(np.median(starts)), "binary_mb": Path(args.setapart).stat().st_size / 1e6}


SECTIONS = {"capture": capture, "arranging": arranging, "packing": packed, "donors": donors, "store": store, "whole": whole}


# ---- the page ----

def machine():
    """Processor, cores and versions."""
    text = Path("/proc/cpuinfo").read_text() if Path("/proc/cpuinfo").exists() else ""
    model = re.search(r"model name\s*:\s*(.*)", text)
    run = lambda *call: subprocess.run(call, capture_output=True, text=True).stdout.strip()  # noqa: E731
    graphviz = subprocess.run(["neato", "-V"], capture_output=True, text=True).stderr.strip() if shutil.which("neato") else ""
    return {"processor": model[1] if model else platform.processor(), "cores": os.cpu_count(), "rustc": run("rustc", "--version"),
            "commit": run("git", "-C", str(tally.ROOT), "rev-parse", "--short", "HEAD"), "opencv": cv2.__version__,
            "highs": highspy.Highs().version(), "graphviz": graphviz}


def table(heads, rows):
    lines = ["| " + " | ".join(heads) + " |", "| " + " | ".join(["---"] + ["---:"] * (len(heads) - 1)) + " |"]
    return "\n".join(lines + ["| " + " | ".join(map(str, row)) + " |" for row in rows])


def page(about, found):
    """The page in Markdown."""
    out = ["# Speed and quality beside other programs", "",
           "Written by `reference/bench.py`, section by section, ours and theirs in the same run, nothing else running. "
           f"{about['processor']}, {about['cores']} cores; {about['rustc']}; commit {about['commit']}; OpenCV {about['opencv']}; HiGHS {about['highs']}; {about['graphviz']}. "
           "A ratio below 1: ours takes less. Growth: the exponent of a power law, by least squares on logarithms.", ""]
    if c := found.get("capture"):
        out += ["## Photos to outlines, beside OpenCV's plain steps", "",
                "The photo `tests/data/studio/lamps.jpg` in several sizes. OpenCV: decode, tags with sub-pixel corners, warp, threshold, contours. Ours does "
                "all that gives outlines that need no touching up: camera, light, parts told from shadow by three networks, edges, walls.", "",
                table(["megapixels", "ours, ms", "OpenCV, ms", "ratio", "decode", "telling parts from paper", "a stroke", "peak memory, MiB"],
                      [[r["megapixels"], f"{r['ours']['total_ms']:.0f}", f"{r['opencv_ms']:.0f}", f"{r['ours']['total_ms'] / r['opencv_ms']:.1f}", f"{r['ours']['decode']:.0f}",
                        f"{r['ours'].get('telling parts from paper', 0):.0f}", f"{r['ours'].get('a stroke', 0):.0f}", f"{int(r['peak_memory'].split()[0]) / 1024:.0f}"] for r in c["rows"]]), "",
                f"Growth with the pixels: ours {c['exponent']:.2f}, OpenCV {c['opencv_exponent']:.2f}.", ""]
    if a := found.get("arranging"):
        out += ["## Arranging, beside Graphviz", "",
                "Generated devices (`reference/devices.py`). Graphviz only parts the boxes (`neato -n`, `sep` the same gap); ours also captions and scores. How good "
                "the layouts are is compared on 200 devices by `reference/arrange.py`.", "",
                table(["parts", "ours, s", "prism, s", "vpsc, s", "ours, cm2", "prism, cm2", "vpsc, cm2", "captions", "overlap, mm2"],
                      [[r["parts"], f"{r['ours']['s']:.2f}", f"{r['prism']['s']:.2f}", f"{r['vpsc']['s']:.2f}", f"{r['ours']['cm2']:.0f}", f"{r['prism']['cm2']:.0f}",
                        f"{r['vpsc']['cm2']:.0f}", r["ours"]["captions"], f"{r['ours']['overlap_mm2']:.3g}"] for r in a["rows"]]), "",
                f"Growth with the parts: ours {a['exponent']:.2f}, vpsc {a['vpsc_exponent']:.2f}.", "", "```text", *a["moving"], "```", ""]
    if p := found.get("packing"):
        out += ["## Packing, beside the best layouts published", "",
                f"{p['seconds']} s each; records of arXiv 2509.13329, computed again from the layouts.", "",
                table(["instance", "ours, %", "record, %", "share"], [[r["name"], f"{r['ours']:.2f}", f"{r['record']:.2f}", f"{r['ours'] / r['record']:.3f}"] for r in p["rows"]]), ""]
    if d := found.get("donors"):
        out += ["## Donors, beside HiGHS", "", "Set covers of the OR-Library and generated ones, one thread each.", "",
                table(["instance", "ours, ms", "HiGHS, ms", "ratio", "optimum"], [[r["name"], r["ours_ms"], r["highs_ms"], r["ratio"], r["same"]] for r in d["rows"]]), "",
                f"Geometric mean of the ratios: {d['mean']:.2f}.", ""]
    if s := found.get("store"):
        out += ["## The store, as revisions grow", "", "80 parts of 200 points; one part moved in each edit, all in every hundredth.", "",
                table(["revisions", "save, ms (median)", "95 %", "open, ms", "undo, ms", "database, MB"],
                      [[r["revisions"], r["save_ms"], r["save_p95_ms"], r["open_ms"], r["undo_ms"], r["mb"]] for r in s["rows"]]), "",
                f"Exponents from 1,000 revisions on: save {s['save_ms_exponent']:.2f}, open {s['open_ms_exponent']:.2f}, size {s['mb_exponent']:.2f}.", ""]
    if w := found.get("whole"):
        out += ["## The whole job", "", f"`setapart demo` {w['demo_s']:.1f} s; `setapart --version` {w['start_ms']:.0f} ms; the binary {w['binary_mb']:.1f} MB.", ""]
    return "\n".join(out)


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--only", nargs="*", choices=SECTIONS, default=list(SECTIONS))
    parser.add_argument("--page", type=Path, default=tally.ROOT / "docs/benchmarks.md")
    args = parser.parse_args()
    if args.setapart is None:
        sys.exit("name the binary with --setapart or SETAPART_BINARY")
    args.out.mkdir(parents=True, exist_ok=True)
    found = {}
    for name, measure in SECTIONS.items():
        kept = args.out / f"bench-{name}.json"
        if name in args.only:
            print(f"measuring: {name}", flush=True)
            found[name] = measure(args)
            kept.write_text(json.dumps(found[name], indent=1))
        elif kept.exists():
            found[name] = json.loads(kept.read_text())
    args.page.write_text(page(machine(), found))
    print(f"written: {args.page}")


if __name__ == "__main__":
    main()
