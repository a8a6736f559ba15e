#!/usr/bin/env python3
"""Tag corners and camera beside OpenCV's, on photos whose truth is exact.

Runs the example `dump_tags` of crates/capture on tests/data/studio and OpenCV (opencv-contrib-python-headless: ArUco with
sub-pixel corners, on the photo in linear light) on the same files, and compares both with the sheet's corners
projected by the camera that rendered the photo. Ours must miss no tag, be no worse than OpenCV's, and stay within 0.3 px.
OpenCV's calibrateCamera on our corners must put focal length and k1 where we do, within one standard deviation: its own for k1,
for the focal length the wider of its own and ours. Its own takes the print for exact; ours allows for an aspect that is off by
0.06 %, which looks like another focal length.

    python reference/tags.py            builds and runs the example
    python reference/tags.py DUMP.json  takes what the example printed
"""
import json
import subprocess
import sys
import time
from pathlib import Path

import cv2
import numpy as np

import tally

STUDIO = tally.ROOT / "tests" / "data" / "studio"
SCENES = ["window", "lamps", "ceiling", "harsh"]
LIMIT_PX = 0.3
SPREADS = 1
OPENCV = f"OpenCV {cv2.__version__}"
TRUTH = "rendered truth"


def dump():
    if len(sys.argv) > 1:
        return json.loads(Path(sys.argv[1]).read_text())
    photos = [str(STUDIO / f"{s}.jpg") for s in SCENES]
    call = ["cargo", "run", "--release", "--quiet", "-p", "capture", "--example", "dump_tags", "--", "--sheet", str(STUDIO / "test_sheet.json")]
    return json.loads(subprocess.run(call + photos, cwd=tally.ROOT, check=True, capture_output=True, text=True).stdout)


def linear_grey(image):
    """Grey in linear light (IEC 61966-2-1), 8 bits, as OpenCV's detector wants them."""
    v = np.arange(256) / 255
    lut = np.where(v <= 0.04045, v / 12.92, ((v + 0.055) / 1.055) ** 2.4).astype(np.float32)
    return np.round(cv2.cvtColor(lut[image], cv2.COLOR_BGR2GRAY) * 255).astype(np.uint8)


def detect_with_opencv(grey):
    params = cv2.aruco.DetectorParameters()
    params.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    family = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
    corners, ids, _ = cv2.aruco.ArucoDetector(family, params).detectMarkers(grey)
    return {int(i): c.reshape(4, 2) for i, c in zip(np.ravel(ids), corners)}


def project(mm, camera):
    flat = np.column_stack([mm, np.zeros(len(mm))])
    rvec = cv2.Rodrigues(np.array(camera["R"]))[0]
    return cv2.projectPoints(flat, rvec, np.array(camera["t"]), np.array(camera["K"]), np.array(camera["dist_k1k2p1p2k3"]))[0].reshape(-1, 2)


def misses(found, sheet, camera):
    away = [c - project(np.array(sheet[i]), camera) for i, c in found.items() if i in sheet]
    return np.hypot(*np.concatenate(away).T) if away else np.array([np.inf])


def calibrate(found, sheet, size, focal_px):
    """OpenCV's own fit to our corners: focal length, k1, and their standard deviations; principal point kept."""
    ids = sorted(found)
    mm = np.concatenate([np.column_stack([sheet[i], np.zeros(4)]) for i in ids]).astype(np.float32)
    px = np.concatenate([found[i] for i in ids]).astype(np.float32)
    k = np.array([[focal_px, 0, (size[0] - 1) / 2], [0, focal_px, (size[1] - 1) / 2], [0, 0, 1]])
    flags = (cv2.CALIB_USE_INTRINSIC_GUESS | cv2.CALIB_FIX_PRINCIPAL_POINT | cv2.CALIB_FIX_ASPECT_RATIO
             | cv2.CALIB_ZERO_TANGENT_DIST | cv2.CALIB_FIX_K3)
    _, k, dist, _, _, spread, _, _ = cv2.calibrateCameraExtended([mm], [px], tuple(size), k, np.zeros(5), flags=flags)
    return k[0, 0], np.ravel(dist)[0], spread[1, 0], spread[4, 0]   # the aspect is fixed: fy carries the spread


def main():
    sheet = {int(i): np.array(c) for i, c in json.loads((STUDIO / "test_sheet.json").read_text())["tags"].items()}
    count, lens = tally.Tally(), []
    print(f"{'':9}| tags seen     | corner RMS, px (worst)                            | detection, ms")
    print(f"{'photo':9}| ours  OpenCV  | ours           after camera   OpenCV {cv2.__version__:9} | ours  OpenCV")
    for photo in dump()["photos"]:
        name = Path(photo["image"]).stem
        camera = json.loads((STUDIO / f"{name}.truth.json").read_text())["camera"]
        ours = {t["id"]: np.array(t["corners_px"]) for t in photo["tags"]}
        after = {t["id"]: np.array(t["corners_px"]) for t in photo["tags_after_camera"]}
        image = cv2.imread(str(STUDIO / f"{name}.jpg"))
        started = time.perf_counter()
        theirs = detect_with_opencv(linear_grey(image))
        their_ms = 1e3 * (time.perf_counter() - started)
        m = [misses(found, sheet, camera) for found in (ours, after, theirs)]
        rms = [float(np.sqrt((e**2).mean())) for e in m]
        table = "  ".join(f"{r:.3f} ({e.max():.3f}) " for r, e in zip(rms, m))
        print(f"{name:9}| {len(ours):3}   {len(theirs):3}     | {table:50}| {photo['detect_ms']:4.0f}  {their_ms:4.0f}")
        count.check(len(ours) == len(sheet), f"{name}: {len(ours)} of {len(sheet)} tags", TRUTH)
        count.check(max(rms[:2]) <= min(rms[2], LIMIT_PX),
                    f"{name}: corners off by {max(rms[:2]):.3f} px, OpenCV's by {rms[2]:.3f}, limit {LIMIT_PX}", f"{TRUTH}, {OPENCV}")

        own = photo["camera"]
        f, k1, f_sigma, k1_sigma = calibrate(after, sheet, photo["size_px"], own["focal_px"])
        lens.append(f"{name:9}| {camera['K'][0][0]:8.1f}  {own['focal_px']:8.1f} +- {own['focal_sigma_px']:4.1f}   {f:8.1f} +- {f_sigma:4.1f} "
                    f"| {camera['dist_k1k2p1p2k3'][0]:+.4f}  {own['k1']:+.4f}  {k1:+.4f} +- {k1_sigma:.4f}")
        for what, there, here, spread in (("focal length", f, own["focal_px"], max(f_sigma, own["focal_sigma_px"])), ("k1", k1, own["k1"], k1_sigma)):
            away = abs(there - here) / spread
            count.check(away <= SPREADS, f"{name}: {what} {here:.4f}, calibrateCamera on the same corners {there:.4f}, "
                        f"{away:.2f} of the spread apart, limit {SPREADS}", OPENCV)
    print(f"\n{'':9}| focal length, px                                | k1")
    print(f"{'photo':9}| true      ours               calibrateCamera    | true     ours     calibrateCamera")
    print("\n".join(lens))
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
