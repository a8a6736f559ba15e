"""Captured outlines against the rendered truth, and an ISO/IEC 7810 ID-1 card against its size.

As a check:        capture.py --setapart BINARY --out DIR
To keep its table and pictures: capture.py --setapart BINARY --out DIR --keep ../docs/accuracy
While developing:  capture.py --json CAPTURE.json --truth window.truth.json --overlay window.png
                   (--json - reads standard input; --overlay writes window.png and window.worst.png)
"""
import argparse
import csv
import io
import json
import sys
import time
from pathlib import Path

import cv2
import numpy as np
import shapely

import tally
import accuracy
from outline_errors import compare, part_table, polygon_of, pooled_table, rms
from outline_pictures import overlay, worst_places

SCENES = ("window", "lamps", "ceiling", "harsh")
KEPT = tally.ROOT / "docs/accuracy"
TRUTH = "rendered truth, Shapely"
RMS_MM, P95_MM = 0.06, 0.12     # what matt parts' outlines may be off

# Checks that are known to fail: (photo, check). One of this list that passes is an error, so that the list stays true.
KNOWN_OPEN = {("lamps", "rms"), ("harsh", "rms")}

# Openings that are not found today: a pane's slot that mirrors the paper, holes of bare metal, a hole in half shade.
MOST_UNSEEN = {"window": 1, "lamps": 3, "harsh": 2, "2-boards": 3}

# Openings that are invented today: white print and solder on a board.
MOST_INVENTED = {"2-boards": 2}

# The demo's photos: every part found and none invented.
DEMO = ("1-shells", "2-boards", "3-inside", "4-small")

# ISO/IEC 7810:2003, ID-1: 85.60 x 53.98 mm, corners of radius 3.18 mm.
CARD_MM = (85.60, 53.98)
CARD_LIMIT_MM = 0.15


def thicknesses(truth):
    """The CSV that a user would write after measuring each part with a caliper."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(["x_mm", "y_mm", "thickness_mm"])
    for part in truth["parts"]:
        if not part.get("on"):
            polygon = shapely.Polygon(part["outline_mm"], part["holes_mm"])
            middle = shapely.get_coordinates(shapely.maximum_inscribed_circle(polygon, 0.1))[0]
            rows.writerow([f"{middle[0]:.3f}", f"{middle[1]:.3f}", part["thickness_mm"]])
    return text.getvalue()


def camera_line(capture, truth):
    """What was found of the camera beside the truth."""
    x, y, z = truth["camera"]["position_mm"]
    c = capture.get("camera", {})
    nadir = c.get("nadir_mm")
    if nadir is None or c.get("height_mm") is None:
        return "camera: not told"
    return (f"camera: height {c['height_mm']:.2f} mm (truth {z:.2f}), nadir {nadir[0]:.2f}, {nadir[1]:.2f} (truth {x:.2f}, {y:.2f}), "
            f"focal {c.get('focal_px') or float('nan'):.1f} px (truth {truth['camera']['K'][0][0]:.1f}), "
            f"tag corners {c.get('corner_rms_px') or float('nan'):.3f} px RMS")


def report(name, capture, truth):
    """The comparison, and its tables as lines."""
    comparison = compare(truth, capture["outlines"])
    found = len(comparison.parts) - len(comparison.missed())
    lines = [f"{name}: {found} of {len(comparison.parts)} parts found, {len(comparison.invented)} invented",
             camera_line(capture, truth), *part_table(comparison), "", *pooled_table(comparison), ""]
    return comparison, lines


def draw(comparison, capture, truth, photo_path, picture):
    photo = cv2.imread(str(photo_path))
    if photo is None:
        sys.exit(f"{photo_path}: not a picture")
    overlay(comparison, [polygon_of(o) for o in capture["outlines"]], photo, truth, picture)
    worst_places(comparison, photo, truth, picture.with_suffix(".worst.png"))


def one(args):
    """Tables and pictures of one capture that is there already."""
    text = sys.stdin.read() if args.json == "-" else Path(args.json).read_text()
    truth = json.loads(args.truth.read_text())
    capture = json.loads(text)
    capture = capture["captures"][0] if "captures" in capture else capture
    comparison, lines = report(args.truth.name.split(".")[0], capture, truth)
    print("\n".join(lines))
    if args.overlay:
        draw(comparison, capture, truth, args.photo or args.truth.parent / truth["image"], args.overlay)
    return 0


def captured(args, photo, truth, sheet=None):
    """Runs `capture` on one photo; the first capture of its JSON, and the seconds it took."""
    table = args.out / f"{photo.stem}.thicknesses.csv"
    table.write_text(thicknesses(truth))
    described = ["--sheet", sheet] if sheet else []
    start = time.monotonic()
    done = tally.run(args.setapart, "capture", photo, *described, "--thicknesses", table, "--json")
    seconds = time.monotonic() - start
    (args.out / f"{photo.stem}.capture.json").write_text(done.stdout)
    return json.loads(done.stdout)["captures"][0], seconds


def scene(args, count, lines, rows, name, photo, sheet):
    truth = json.loads(photo.with_suffix("").with_suffix(".truth.json").read_text())
    capture, seconds = captured(args, photo, truth, sheet)
    comparison, table = report(f"{name} ({seconds:.1f} s)", capture, truth)
    lines += table
    draw(comparison, capture, truth, photo, args.out / f"{name}.png")
    rows += accuracy.rows(name, comparison)
    decide(count, name, comparison)


def decide(count, name, comparison, with_limits=True):
    """The checks of one photo, those that are known to be open apart."""
    missed = [p.name for p in comparison.missed()]
    matt = comparison.by_material().get("all matt", np.zeros(0))
    checks = [
        ("found", not missed, f"{name}: every part found (missed: {', '.join(missed) or 'none'})"),
        ("invented", not comparison.invented, f"{name}: no part invented ({len(comparison.invented)})"),
    ]
    asked, unseen = comparison.openings()
    most = MOST_UNSEEN.get(name, 0)
    checks.append(("openings", unseen <= most, f"{name}: of {asked} openings that show 0.6 mm of paper {unseen} not found, at most {most}"))
    new, most = comparison.openings_invented, MOST_INVENTED.get(name, 0)
    checks.append(("no openings", new <= most, f"{name}: {new} openings invented, at most {most}"))
    if with_limits:
        off = float(np.percentile(matt, 95))
        checks.append(("rms", rms(matt) <= RMS_MM, f"{name}: RMS of the matt parts {rms(matt):.3f} mm, limit {RMS_MM}"))
        checks.append(("p95", off <= P95_MM, f"{name}: 95 % of the matt parts' points within {off:.3f} mm, limit {P95_MM}"))
    for key, ok, what in checks:
        if (name, key) in KNOWN_OPEN:
            count.known_open(ok, what, TRUTH)
        else:
            count.check(ok, what, TRUTH)


def demo(args, count, lines, rows, photo):
    truth = json.loads(photo.with_suffix("").with_suffix(".truth.json").read_text())
    capture, seconds = captured(args, photo, truth)
    comparison, table = report(f"{photo.stem} ({seconds:.1f} s)", capture, truth)
    lines += table
    draw(comparison, capture, truth, photo, args.out / f"{photo.stem}.png")
    rows += accuracy.rows(f"demo {photo.stem}", comparison)
    decide(count, photo.stem, comparison, with_limits=False)


def card(args, count, lines, photo):
    truth = json.loads(photo.with_suffix("").with_suffix(".truth.json").read_text())
    capture, seconds = captured(args, photo, truth)
    comparison, table = report(f"card ({seconds:.1f} s)", capture, truth)
    lines += table
    draw(comparison, capture, truth, photo, args.out / "card.png")
    area = CARD_MM[0] * CARD_MM[1]
    near = [p for p in map(polygon_of, capture["outlines"]) if abs(p.area / area - 1) < 0.1]
    if not count.check(len(near) == 1, f"card: one outline of a card's size ({len(near)})", "ISO/IEC 7810 ID-1"):
        return
    for axis, got, want in zip(("width", "height"), side_lengths(near[0]), CARD_MM):
        lines.append(f"card {axis}: {got:.3f} mm, standard {want:.2f}")
        count.check(abs(got - want) <= CARD_LIMIT_MM, f"card: {axis} {got:.3f} mm, {want:.2f} +- {CARD_LIMIT_MM}", "ISO/IEC 7810 ID-1")


def side_lengths(polygon):
    """Distance between lines fitted to opposite straight sides: long side first.

    A lone bad point moves a bounding box; the median of a side's points does not move.
    """
    box = shapely.get_coordinates(shapely.minimum_rotated_rectangle(polygon))
    edge = box[1] - box[0]
    along = edge / np.hypot(*edge)
    if np.hypot(*edge) < np.hypot(*(box[2] - box[1])):
        along = np.array([-along[1], along[0]])
    across = np.array([-along[1], along[0]])
    ring = polygon.exterior
    n = int(ring.length / 0.25)
    points = shapely.get_coordinates(shapely.line_interpolate_point(ring, np.arange(n) / n, normalized=True))
    lengths = []
    for direction, other in ((along, across), (across, along)):
        d, o = points @ direction, points @ other
        middle = np.abs(o - np.median([o.min(), o.max()])) < 0.4 * np.ptp(o)       # away from the round corners
        high, low = middle & (d > d.mean()), middle & (d < d.mean())
        lengths.append(float(np.median(d[high]) - np.median(d[low])))
    return lengths


def main():
    parser = tally.arguments(__doc__)
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.add_argument("--json", help="a capture that is there already; - for standard input")
    parser.add_argument("--truth", type=Path, help="its truth file")
    parser.add_argument("--overlay", type=Path, help="picture to write")
    parser.add_argument("--photo", type=Path, help="its photo (default: beside the truth file)")
    parser.add_argument("--keep", type=Path, help="folder in the repository for the table and the pictures")
    args = parser.parse_args()
    if args.json:
        return one(args)
    args.out.mkdir(parents=True, exist_ok=True)
    count, lines, rows = tally.Tally(), [], []
    photos = tally.ROOT / "tests/data/studio"
    for name in SCENES:
        photo = photos / f"{name}.jpg"
        if photo.exists():
            scene(args, count, lines, rows, name, photo, photos / "test_sheet.json")
        else:
            count.skip(f"capture {name}", f"{photo.relative_to(tally.ROOT)} is not there")
    photo = tally.ROOT / "tests/data/capture/card.jpg"
    if photo.exists():
        card(args, count, lines, photo)
    else:
        count.skip("capture card", f"{photo.relative_to(tally.ROOT)} is not there")
    for name in DEMO:
        demo(args, count, lines, rows, tally.ROOT / f"tests/data/demo/{name}.jpg")
    (args.out / "capture.txt").write_text("\n".join(lines))
    (args.out / "accuracy.md").write_text(accuracy.page(rows))
    if args.keep:
        accuracy.keep(args.keep, rows, args.out, SCENES)
    stale = accuracy.stale(KEPT / "README.md", rows)
    count.check(not stale, f"the table in docs/accuracy is today's ({'; '.join(stale[:3]) or 'no difference'})", TRUTH)
    print("\n".join(lines))
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
