"""The printed template measured back: outlines from 600 dpi by OpenCV, and tiles cut at their marks and joined.

    printed_outlines.py --setapart BINARY --demo DIR      DIR holds the demo's template-whole.pdf, template-a4.pdf, piece.json

poppler renders; nothing of ours is asked where a line lies. The true place of each outline is piece.json's.
"""
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import cv2
import numpy as np

import tally

DPI = 600
PX_MM = DPI / 25.4
PT_MM = 25.4 / 72
LIMIT_MM = 0.1
OVERLAP_MM, WASTE_MM, ROUND_MM = 10.0, 4.0, 3.0


def render(pdf, page=1):
    done = subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", "-f", str(page), "-l", str(page), str(pdf)], capture_output=True, check=True).stdout
    head = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", done)
    w, h = int(head[1]), int(head[2])
    return np.frombuffer(done, np.uint8, w * h, head.end()).reshape(h, w)


def box_mm(pdf, name):
    said = subprocess.run(["pdfinfo", "-box", str(pdf)], capture_output=True, text=True, check=True).stdout
    return [float(v) * PT_MM for v in re.search(name + r":\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)", said).groups()]


def placed(part, place):
    ring = np.array(part["outline"]["outer"])
    if part.get("face_shown") == "back":
        ring[:, 0] = ring[:, 0].min() + ring[:, 0].max() - ring[:, 0]
    a = np.radians(place.get("turn_deg", 0))
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    return ring @ turn.T + [place["x"], place["y"]]


def along(ring, step):
    """Points every `step` mm along a closed ring."""
    closed = np.vstack([ring, ring[:1]])
    length = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    at = np.arange(0, length[-1], step)
    return np.column_stack([np.interp(at, length, closed[:, k]) for k in (0, 1)])


def miss_mm(ink, points_px):
    """For points of the true line: how far the middle of the printed line lies across it, mm; sub-pixel, by the line's
    own weight within 0.3 mm. Lines that meet another within that reach are told apart by nothing, and left out."""
    reach = int(round(0.30 * PX_MM))
    after, before = np.roll(points_px, -2, axis=0), np.roll(points_px, 2, axis=0)
    tangent = after - before
    normal = np.column_stack([-tangent[:, 1], tangent[:, 0]])
    normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
    steps = np.arange(-reach, reach + 0.25, 0.25)
    where = points_px[:, None, :] + normal[:, None, :] * steps[None, :, None]
    dark = cv2.remap(ink, where[..., 0].astype(np.float32), where[..., 1].astype(np.float32), cv2.INTER_LINEAR)
    weight = dark.sum(axis=1)
    middle = (dark * steps).sum(axis=1) / np.maximum(weight, 1e-9)
    # The line is 0.35 mm wide: about that much ink must be there, neither none nor another line's as well.
    width = weight * 0.25 / PX_MM
    return middle / PX_MM, width


def measure(ink, to_px, piece, count, name):
    places = {p["part"]: p for p in piece["placements"]}
    misses, seen, total = [], 0, 0
    for part in piece["parts"]:
        if part["id"] not in places:
            continue
        points = along(placed(part, places[part["id"]]), 0.25)
        middle, width = miss_mm(ink, to_px(points))
        good = (width > 0.20) & (width < 0.45)
        seen, total = seen + good.sum(), total + len(points)
        misses.append(np.abs(middle[good]))
    misses = np.concatenate(misses)
    said = f"{name}: {seen} of {total} points seen, RMS {np.sqrt((misses**2).mean()):.4f}, 99 % {np.percentile(misses, 99):.4f}, worst {misses.max():.4f} mm"
    count.check(seen > 0.9 * total and np.percentile(misses, 99) <= LIMIT_MM, said, "poppler 600 dpi, OpenCV")


def joined(pdf, piece):
    """The tiles as a user joins them: each cut along its dashed lines, laid on its neighbours' strips. Where a page's cut
    lines are is found by the crossed circles that lie on them, which neighbours share."""
    frame = piece["frame"]
    board = np.array([v - frame["board_clearance_mm"] for v in frame["size_mm"]]) + 2 * ROUND_MM
    pages = int(re.search(r"Pages:\s+(\d+)", subprocess.run(["pdfinfo", str(pdf)], capture_output=True, text=True, check=True).stdout)[1])
    text = subprocess.run(["pdftotext", str(pdf), "-"], capture_output=True, text=True, check=True).stdout
    codes = [m for page in text.split("\f") for m in re.findall(r"^([A-Z]{1,2}\d+)$", page, re.M)[:1]]
    rows = len({re.match(r"[A-Z]+", c)[0] for c in codes})
    columns = pages // rows
    tile = board / [columns, rows]
    canvas = np.zeros(((board[::-1] * PX_MM).astype(int) + 2).tolist(), np.float32)
    for k in range(pages):
        row, column = divmod(k, columns)
        ink = 1 - render(pdf, k + 1).astype(np.float32) / 255
        size = np.array(ink.shape[::-1]) / PX_MM
        # The tile stands in the middle of what the page leaves it: 11 and 5 mm beside it, 5 above and 29 below.
        printed = tile + [WASTE_MM * (column > 0) + OVERLAP_MM * (column + 1 < columns), WASTE_MM * (row > 0) + OVERLAP_MM * (row + 1 < rows)]
        spare = size - [16, 34] - printed
        left = 11 + spare[0] / 2 + WASTE_MM * (column > 0)
        top = 5 + spare[1] / 2 + WASTE_MM * (row > 0)
        left, top = by_marks(ink, left, top, tile, row, column, rows, columns)
        w, h = tile
        x0, y0 = column * tile[0], row * tile[1]
        shift = np.float32([[1, 0, (x0 - left) * PX_MM], [0, 1, (y0 - top) * PX_MM]])
        moved = cv2.warpAffine(ink, shift, canvas.shape[::-1], flags=cv2.INTER_LINEAR)
        a, b = (np.array([x0, y0]) * PX_MM).round().astype(int), ((np.array([x0, y0]) + tile) * PX_MM).round().astype(int)
        canvas[a[1]:b[1], a[0]:b[0]] = moved[a[1]:b[1], a[0]:b[0]]
    return canvas


def by_marks(ink, left, top, tile, row, column, rows, columns):
    """Corrects where the cut lines are by the crosses on them: the weight of a cross's arms is its line."""
    # A dashed cut line is found as the darkest column or row within half a millimetre of where it is wanted.
    def line(profile, at):
        a = int((at - 0.5) * PX_MM)
        window = profile[a:a + int(1.0 * PX_MM)]
        strong = np.clip(window - 0.6 * window.max(), 0, None)
        return (a + 0.5 + (strong * np.arange(len(window))).sum() / strong.sum()) / PX_MM
    band = slice(int(top * PX_MM), int((top + tile[1]) * PX_MM))
    if column > 0:
        left = line(ink[band].mean(axis=0), left)
    band = slice(int(left * PX_MM), int((left + tile[0]) * PX_MM))
    if row > 0:
        top = line(ink[:, band].mean(axis=1), top)
    return left, top


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--demo", type=Path, default=Path(os.environ.get("SETAPART_DEMO_OUT", "demo-out")))
    args = parser.parse_args()
    count = tally.Tally()
    piece = json.loads((args.demo / "piece.json").read_text())
    frame = piece["frame"]
    rim = frame["lip_mm"] - frame["board_clearance_mm"] / 2
    whole = args.demo / "template-whole.pdf"
    ink = 1 - render(whole).astype(np.float32) / 255
    x0, y0, x1, y1 = box_mm(whole, "TrimBox")
    height = ink.shape[0] / PX_MM
    board = [v - frame["board_clearance_mm"] for v in frame["size_mm"]]
    count.check(abs(x1 - x0 - board[0]) < 0.01 and abs(y1 - y0 - board[1]) < 0.01, f"trim box {x1 - x0:.3f} x {y1 - y0:.3f} mm, the board", "pdfinfo")
    # Pixel centres: the page's left edge is half a pixel before the first one's middle.
    page_height = box_mm(whole, "MediaBox")[3]
    to_px = lambda p: np.column_stack([(p[:, 0] + rim + x0) * PX_MM - 0.5, (page_height - (p[:, 1] + rim + y0)) * PX_MM - 0.5])
    measure(ink, to_px, piece, count, f"{whole.name} ({height:.1f} mm)")
    sheet = joined(args.demo / "template-a4.pdf", piece)
    off = rim + ROUND_MM
    tall = board[1] + 2 * ROUND_MM
    to_px = lambda p: np.column_stack([(p[:, 0] + off) * PX_MM - 0.5, (tall - (p[:, 1] + off)) * PX_MM - 0.5])
    measure(sheet, to_px, piece, count, "tiles of A4, cut and joined")
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
