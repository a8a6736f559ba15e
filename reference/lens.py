"""Our lens model beside OpenCV's: the same points through `projectPoints` and `undistortPoints`.

    lens.py               builds and runs the example `project_points` of crates/capture
    lens.py --constants   prints the numbers in crates/capture/tests/camera.rs

Brown-Conrady, radial terms k1 and k2. Cameras, lenses and points come from a fixed seed: heights of 250 to 600 mm, tilts up
to 20 degrees, any turn, k1 and k2 up to 0.15 and 0.08 either way.
"""
import json
import subprocess
import sys

import cv2
import numpy as np

import tally

OPENCV = f"OpenCV {cv2.__version__}"
SIZE_PX = (4032, 3024)
LIMIT_PX, LIMIT_MM = 1e-8, 1e-8

# The camera of crates/capture/tests/camera.rs.
TEST_CAMERA = {"focal_px": 3028.5, "centre_px": [2015.5, 1511.5], "k1": -0.11, "k2": 0.045,
               "rotation": cv2.Rodrigues(np.array([2.9, 0.15, -0.3]))[0].tolist(), "translation_mm": [-95.0, 130.0, 390.0]}
TEST_OVER = [(0, 0, 0), (210, 0, 0), (210, 297, 0), (0, 297, 0), (105, 148.5, 0), (30, 250, 8), (180, 40, 12)]
TEST_PHOTO = [(100, 80), (3900, 2900), (2100, 1400)]


def matrices(camera):
    f, (x, y) = camera["focal_px"], camera["centre_px"]
    return np.array([[f, 0, x], [0, f, y], [0, 0, 1]]), np.array([camera["k1"], camera["k2"], 0, 0, 0])


def projected(camera, over_mm):
    k, lens = matrices(camera)
    turn = cv2.Rodrigues(np.array(camera["rotation"]))[0]
    return cv2.projectPoints(np.array(over_mm, float), turn, np.array(camera["translation_mm"], float), k, lens)[0].reshape(-1, 2)


def undistorted(camera, photo_px, to_px=False):
    """Directions of sight at z = 1, or places in a photo without distortion; iterated until nothing moves."""
    k, lens = matrices(camera)
    stop = (cv2.TERM_CRITERIA_MAX_ITER | cv2.TERM_CRITERIA_EPS, 2000, 1e-16)
    points = np.array(photo_px, float).reshape(-1, 1, 2)
    # OpenCV leaves out the criteria in its shorter form, which stops after five rounds.
    return cv2.undistortPoints(points, k, lens, None, None, k if to_px else None, stop).reshape(-1, 2)


def on_sheet(camera, photo_px):
    """Where OpenCV's directions of sight meet the sheet, by plane geometry."""
    r, t = np.array(camera["rotation"]), np.array(camera["translation_mm"])
    ways = np.column_stack([undistorted(camera, photo_px), np.ones(len(photo_px))]) @ r
    eye = -t @ r
    return (eye - ways * (eye[2] / ways[:, 2])[:, None])[:, :2]


def a_camera(dice):
    """Over an A4 sheet, looking about at its middle."""
    tilt, way, turn = dice.uniform(0, 20), dice.uniform(0, 360), dice.uniform(-180, 180)
    axis = np.array([np.cos(np.radians(way)), np.sin(np.radians(way)), 0]) * np.radians(tilt)
    spin = np.array([0, 0, np.radians(turn)])
    rotation = cv2.Rodrigues(axis)[0] @ np.diag([1.0, -1, -1]) @ cv2.Rodrigues(spin)[0]
    middle = np.array([105, 148.5, 0]) + np.append(dice.normal(0, 15, 2), 0)
    return {"focal_px": dice.uniform(2400, 3600), "centre_px": [2015.5 + dice.normal(0, 20), 1511.5 + dice.normal(0, 20)],
            "k1": dice.uniform(-0.15, 0.15), "k2": dice.uniform(-0.08, 0.08), "rotation": rotation.tolist(),
            "translation_mm": (np.array([0, 0, dice.uniform(250, 600)]) - rotation @ middle).tolist()}


def one_to_one(camera, r):
    """Whether the distortion grows out to r: beyond, places have two pictures and no answer is the right one."""
    s = np.linspace(0, r, 200) ** 2
    return bool(np.all(1 + 3 * camera["k1"] * s + 5 * camera["k2"] * s * s > 0.05))


def carried(asked):
    call = ["cargo", "run", "--release", "--locked", "--quiet", "-p", "capture", "--example", "project_points"]
    done = subprocess.run(call, cwd=tally.ROOT, check=True, capture_output=True, text=True, input=json.dumps({"cameras": asked}))
    return json.loads(done.stdout)["cameras"]


def constants():
    print("projected:", *zip(TEST_OVER, projected(TEST_CAMERA, TEST_OVER).tolist()), sep="\n  ")
    print("undistorted:", *zip(TEST_PHOTO, undistorted(TEST_CAMERA, TEST_PHOTO, to_px=True).tolist()), sep="\n  ")


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--constants", action="store_true", help="print the numbers in the Rust test and end")
    if parser.parse_args().constants:
        return constants()
    dice, count = np.random.default_rng(20250311), tally.Tally()
    asked = []
    while len(asked) < 40:
        camera = a_camera(dice)
        if one_to_one(camera, 1.3):
            over = np.column_stack([dice.uniform(0, 210, 100), dice.uniform(0, 297, 100), dice.uniform(0, 12, 100)])
            photo = dice.uniform([0, 0], SIZE_PX, (100, 2))
            asked.append(camera | {"over_mm": over.tolist(), "in_photo_px": photo.tolist()})
    told = carried(asked)
    there, back, unseen = 0.0, 0.0, 0
    for camera, ours in zip(asked, told):
        unseen += sum(p is None for p in ours["projected_px"] + ours["on_sheet_mm"])
        if unseen == 0:
            there = max(there, np.abs(np.array(ours["projected_px"]) - projected(camera, camera["over_mm"])).max())
            back = max(back, np.abs(np.array(ours["on_sheet_mm"]) - on_sheet(camera, camera["in_photo_px"])).max())
    n = sum(len(c["over_mm"]) for c in asked)
    count.check(unseen == 0, f"{2 * n} points through {len(asked)} cameras: {unseen} without an answer", OPENCV)
    count.check(there <= LIMIT_PX, f"projectPoints: {there:.1e} px apart at most, limit {LIMIT_PX}", OPENCV)
    count.check(back <= LIMIT_MM, f"undistortPoints, met with the sheet: {back:.1e} mm apart at most, limit {LIMIT_MM}", OPENCV)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
