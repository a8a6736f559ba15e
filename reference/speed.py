#!/usr/bin/env python3
"""How long capturing takes beside OpenCV doing the plain steps of the same job, in one run, on the same files.

OpenCV: decode, find the tags with sub-pixel corners, warp the sheet upright, threshold, contours. Ours: from the same bytes
to outlines with holes, corrected for height (`cargo bench -p capture --bench capture`). The 48-megapixel photo is the
12-megapixel one enlarged. Prints times, ratios and versions; decides nothing, since a busy machine proves nothing.

    python reference/speed.py [SCENE...]
"""
import json
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import cv2
import numpy as np

ROOT = Path(__file__).resolve().parent.parent
STUDIO = ROOT / "tests/data/studio"
RUNS = 5


def with_opencv(path, sheet):
    """Milliseconds by step."""
    marks = [time.perf_counter()]
    image = cv2.imread(str(path))
    marks.append(time.perf_counter())
    grey = cv2.cvtColor(image, cv2.COLOR_BGR2GRAY)
    params = cv2.aruco.DetectorParameters()
    params.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, ids, _ = cv2.aruco.ArucoDetector(family, params).detectMarkers(grey)
    marks.append(time.perf_counter())
    scale = 10 * np.sqrt(image.shape[0] * image.shape[1] / 12.2e6)
    seen = {int(i): c.reshape(4, 2) for i, c in zip(ids.ravel(), corners)}
    there = [i for i in seen if str(i) in sheet["tags"]]
    px = np.concatenate([seen[i] for i in there])
    mm = np.concatenate([sheet["tags"][str(i)] for i in there]) * [scale, -scale] + [0, sheet["size_mm"][1] * scale]
    warp = cv2.findHomography(px.astype(np.float32), mm.astype(np.float32))[0]
    flat = cv2.warpPerspective(image, warp, (round(sheet["size_mm"][0] * scale), round(sheet["size_mm"][1] * scale)))
    marks.append(time.perf_counter())
    mask = cv2.threshold(cv2.cvtColor(flat, cv2.COLOR_BGR2GRAY), 0, 255, cv2.THRESH_BINARY_INV | cv2.THRESH_OTSU)[1]
    cv2.findContours(mask, cv2.RETR_CCOMP, cv2.CHAIN_APPROX_NONE)
    marks.append(time.perf_counter())
    steps = dict(zip(("decode", "tags", "warp", "threshold and contours"), 1e3 * np.diff(marks)))
    return 1e3 * (marks[-1] - marks[0]), steps


def main():
    scenes = sys.argv[1:] or ["lamps"]
    sheet = json.loads((STUDIO / "test_sheet.json").read_text())
    with tempfile.TemporaryDirectory() as folder:
        photos = []
        for scene in scenes:
            photos.append(STUDIO / f"{scene}.jpg")
            large = cv2.resize(cv2.imread(str(photos[-1])), None, fx=2, fy=2, interpolation=cv2.INTER_CUBIC)
            photos.append(Path(folder) / f"{scene}-48mp.jpg")
            cv2.imwrite(str(photos[-1]), large, [cv2.IMWRITE_JPEG_QUALITY, 92])
        theirs = [min((with_opencv(p, sheet) for _ in range(RUNS)), key=lambda r: r[0]) for p in photos]
        call = ["cargo", "bench", "--quiet", "-p", "capture", "--bench", "capture", "--", str(STUDIO / "test_sheet.json"), *map(str, photos)]
        lines = subprocess.run(call, cwd=ROOT, check=True, capture_output=True, text=True).stdout.splitlines()
    ours = [json.loads(line) for line in lines]
    print(f"OpenCV {cv2.__version__} with {cv2.getNumThreads()} threads; best of {RUNS}, ms")
    for photo, (total, steps), own in zip(photos, theirs, ours):
        print(f"{photo.stem}: OpenCV {total:.0f} ({', '.join(f'{k} {v:.0f}' for k, v in steps.items())})")
        print(f"{' ' * len(photo.stem)}  ours {own['total_ms']:.0f} ({', '.join(f'{k} {v:.0f}' for k, v in own.items() if k not in ('photo', 'total_ms'))}); ratio {own['total_ms'] / total:.2f}")
    print(ours[-1])


if __name__ == "__main__":
    main()
