#!/usr/bin/env python3
"""Draw a test sheet: by default A4, AprilTag 36h11 tags along the border, blank white middle.  Writes PNG and JSON."""
import argparse, json
from pathlib import Path
import cv2
import numpy as np

ap = argparse.ArgumentParser(description=__doc__)
ap.add_argument("-o", "--out", type=Path, default=Path("demo/test_sheet"))
ap.add_argument("--dpi", type=float, default=600)
ap.add_argument("--tag-mm", type=float, default=16.0)
ap.add_argument("--margin-mm", type=float, default=9.0)
ap.add_argument("--across", type=int, default=6, help="tags along the short edge")
ap.add_argument("--up", type=int, default=8, help="tags along the long edge")
ap.add_argument("--size-mm", type=float, nargs=2, default=(210.0, 297.0))
ap.add_argument("--first-id", type=int, default=0)
a = ap.parse_args()

W, H = a.size_mm
w, h = round(W / 25.4 * a.dpi), round(H / 25.4 * a.dpi)
img = np.full((h, w), 255, np.uint8)
d = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_APRILTAG_36h11)
m, t = a.margin_mm, a.tag_mm
xs, ys = np.linspace(m, W - m - t, a.across), np.linspace(m, H - m - t, a.up)
spots = [(x, y) for y in ys for x in xs if x in (xs[0], xs[-1]) or y in (ys[0], ys[-1])]
side = round(t / W * w / 8) * 8                        # a whole number of texels per tag cell
tags = {}
for i, (x, y) in enumerate(spots, a.first_id):                     # (x, y): the tag's upper-left corner from the sheet's upper-left
    c, r = round(x / W * w), round(y / H * h)
    img[r:r + side, c:c + side] = cv2.aruco.generateImageMarker(d, i, side, borderBits=1)
    corners = [(c, r), (c + side, r), (c + side, r + side), (c, r + side)]
    tags[i] = [[u / w * W, H - v / h * H] for u, v in corners]
a.out.parent.mkdir(parents=True, exist_ok=True)
cv2.imwrite(f"{a.out}.png", img)
a.out.with_suffix(".json").write_text(json.dumps({"size_mm": [W, H], "family": "36h11", "units": "mm, y up",
                                                  "corner_order": "TL TR BR BL as printed", "tags": tags}))
print(f"{a.out}.png: {w}x{h}, {len(tags)} tags")
