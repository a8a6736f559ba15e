"""The table of capture's errors that is kept in the repository, with a picture for each scene."""
import re
from pathlib import Path

import cv2
import numpy as np

from outline_errors import rms

HEAD = ("scene", "material", "points", "RMS", "p95", "worst", "missed", "invented", "openings", "missed", "invented")
ALIKE_MM = 0.005        # other processors round other last digits
LONGEST_PX = 1500

INTRODUCTION = """# How far captured outlines are from the truth

Written by `reference/capture.py --keep docs/accuracy`; `./check` compares it with what the program does today. The photos are
path-traced (`tests/data`), so that the truth is exact: distances both ways between the captured and the true outline, sampled
every 0.25 mm, holes included, pooled per material, mm. Openings that show less than 0.6 mm of paper, and were not found, do not
count. Missed and invented are parts first, then openings: of those that show 0.6 mm of paper. "all matt" is black and white plastic, board, ribbon and card. None of the four scenes was used to teach the eye; parts
like the demo's were (`reference/eye`), so that its photos are no evidence of accuracy.

In the pictures the truth is cyan; the captured outline is green, yellow where it is 0.25 mm off, magenta from 0.5 mm on.
"""


def rows(scene, comparison):
    """One row for each material of a scene; what was missed and invented stands in its first: parts, then openings."""
    out = []
    for material, e in comparison.by_material().items():
        out.append([scene, material, len(e), rms(e), float(np.percentile(e, 95)), float(e.max()), *[""] * 5])
    if out:
        out[0][6:] = [len(comparison.missed()), len(comparison.invented), *comparison.openings(), comparison.openings_invented]
    return out


def line(row):
    return "| " + " | ".join(f"{v:.3f}" if isinstance(v, float) else str(v) for v in row) + " |"


def page(all_rows, pictures=()):
    text = [INTRODUCTION, "| " + " | ".join(HEAD) + " |", "| --- | --- |" + " ---: |" * (len(HEAD) - 2)]
    text += [line(r) for r in all_rows]
    for name in pictures:
        text += ["", f"## {name}", "", f"![truth and captured outlines over the photo]({name}.jpg)",
                 "", f"![each part's worst place]({name}.worst.jpg)"]
    return "\n".join(text) + "\n"


def keep(folder, all_rows, out, scenes):
    """Writes the page and, smaller, the pictures that lie in `out`."""
    folder.mkdir(parents=True, exist_ok=True)
    for name in scenes:
        for kind in ("", ".worst"):
            image = cv2.imread(str(out / f"{name}{kind}.png"))
            scale = min(1.0, LONGEST_PX / max(image.shape[:2]))
            image = cv2.resize(image, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
            cv2.imwrite(str(folder / f"{name}{kind}.jpg"), image, [cv2.IMWRITE_JPEG_QUALITY, 80])
    (folder / "README.md").write_text(page(all_rows, scenes))


def stale(path, all_rows):
    """What differs between a kept page and rows; empty where nothing does."""
    if not Path(path).exists():
        return [f"{path} is not there"]
    cells = [[c.strip() for c in t.strip("| \n").split(" | ")] for t in Path(path).read_text().splitlines() if re.match(r"\| .*\d\.\d{3} \|", t)]
    kept = {(c[0], c[1]): c for c in cells}
    now = {(r[0], r[1]): r for r in all_rows}
    told = [f"{' '.join(k)}: only in one of both" for k in kept.keys() ^ now.keys()]
    for key in kept.keys() & now.keys():
        for name, a, b in zip(HEAD[3:6], kept[key][3:6], now[key][3:6]):
            # A worst place may jump to another sample; the pooled numbers may not.
            if abs(float(a) - b) > (10 if name == "worst" else 1) * ALIKE_MM:
                told.append(f"{' '.join(key)}: {name} {a}, now {b:.3f}")
    return sorted(told)
