#!/usr/bin/env python3
"""Write the scenes of the photos that only tests look at: a card of known size, and sheets that must be refused.

Run after layout.py, with its folder:   python test_scenes.py -o build --letter LETTER.png LETTER.json
"""
import argparse, json
from pathlib import Path
import numpy as np
from PIL import Image
from shapely import affinity
from shapely.geometry import Polygon
from device import Part, bird, crect, disk, rrect
from layout import pose_of, scene_part

BENCH = {"rgb": [96, 78, 60], "png": "bench.png", "size_mm": [840, 840]}


def id_card():
    """ISO/IEC 7810 ID-1: 85.60 x 53.98 mm, corners 3.18, 0.76 thick, with a plain invented print."""
    p = Part("card", "Card of format ID-1", "card", rrect(0, 0, 85.60, 53.98, 3.18), 0.76, 0, (62, 104, 108), 0.75, mass=5.0, back="pvc", bevel=0.05)
    f = p.face
    p.body()
    x, y = f.grid()
    for k in range(9):                                   # contour lines of an imaginary hill
        d = np.hypot(x - 66, (y - 8) * 1.3) + 2.2 * np.sin(np.arctan2(y - 8, x - 66) * 3 + k * 0.4)
        m = np.exp(-((d - 8 - 6 * k) / 0.35) ** 2)
        f.rgb += (np.array([96, 140, 140], np.float32) / 255 - f.rgb) * (0.7 * m)[..., None]
    f.rect(42.8, 44.6, 85.6, 6.0, (40, 66, 70))
    f.text(7, 44.6, "MEMBER", 2.2, (226, 222, 206), "mark", "lm", spacing=0.4)
    f.paint(crect(16.5, 28.5, 12.0, 9.4, 1.2), (196, 170, 112))
    for dx in (-2.2, 2.2):
        f.line([(16.5 + dx, 24), (16.5 + dx, 33)], 0.25, (120, 100, 60))
    for dy in (-1.5, 1.5):
        f.line([(10.6, 28.5 + dy), (22.4, 28.5 + dy)], 0.25, (120, 100, 60))
    f.text(7, 14.6, "0000 1111 2222 3333", 2.6, (226, 222, 206), "mono", "lm")
    f.text(7, 8.2, "A. SPECIMEN", 1.9, (214, 212, 200), "sans", "lm", spacing=0.2)
    return p


def token(id, d, t, rgb, words):
    p = Part(id, f"Token {d} mm", "token", disk(0, 0, d / 2), t, 0, rgb, 0.34, metal=1.0, mass=5.0, back="steel", bevel=0.12, ppm=30)
    f = p.face
    p.body()
    f.turned(0, 0, 0.0008, 0.03)
    f.paint(disk(0, 0, d / 2) - disk(0, 0, d / 2 - 1.1), None, soft=0.1, bump=0.12)
    f.paint(bird(0, d * 0.08, d * 0.42), tuple(int(v * 0.62) for v in rgb), metal=0.6, bump=0.05, a=0.8)
    f.text(0, -d * 0.27, words, d * 0.075, tuple(int(v * 0.5) for v in rgb), "bold", metal=0.5, a=0.85)
    return p


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("-o", "--out", type=Path, default=Path("build"))
    ap.add_argument("--letter", type=Path, nargs=2, metavar=("PNG", "JSON"), required=True, help="the Letter capture sheet")
    a = ap.parse_args()
    base = {"sheet": {"png": "sheet-a4.png", "size_mm": [210, 297]}, "table": BENCH, "spp": 16}
    write = lambda name, scene: (a.out / f"{name}.json").write_text(json.dumps({**base, **scene}))
    cam = lambda **more: dict(focal_35mm=28, k1=0.032, k2=-0.018, **more)

    laid = [(id_card(), (98, 172, 3.4)), (token("token-19", 19.0, 1.5, (190, 150, 84), "19"), (70, 112, 20)),
            (token("token-24", 24.0, 2.0, (184, 182, 176), "24"), (106, 108, -14)), (token("token-30", 30.0, 2.4, (188, 128, 92), "30"), (146, 118, 8))]
    write("card", {"parts": [scene_part(p, pose_of(p, s), p.face.save(a.out / "faces", p.id)) for p, s in laid], "seed": 51, "limit_kb": 3000,
                   "camera": cam(height_mm=346, tilt_deg=5.0, tilt_dir_deg=-104, roll_deg=90.8, look_at_mm=[106, 148]),
                   "lights": {"preset": "window", "azimuth_deg": 4, "fill": 2.0}})

    light = {"preset": "window", "azimuth_deg": -3, "fill": 2.0}
    write("empty", {"seed": 52, "limit_kb": 700, "parts": [], "lights": light,
                    "camera": cam(height_mm=350, tilt_deg=3.0, tilt_dir_deg=-80, roll_deg=89.0, look_at_mm=[105, 149])})

    faces = json.loads((a.out / "faces.json").read_text())

    def again(id, cx, cy, turn):
        p = dict(faces[id]["scene"])
        x0, y0, x1, y1 = affinity.rotate(Polygon(p["outline"]), turn, origin=(0, 0)).bounds
        return {**p, "pose": {"x": round(cx - (x0 + x1) / 2, 4), "y": round(cy - (y0 + y1) / 2, 4), "turn_deg": turn}}

    write("over-edge", {"seed": 53, "limit_kb": 700, "lights": light, "parts": [again("audio-board", 39.5, 134, 4.0), again("key-mat", 126, 160, -3.0)],
                        "camera": cam(height_mm=344, tilt_deg=4.0, tilt_dir_deg=-100, roll_deg=90.5, look_at_mm=[105, 148])})

    # two sheets beside each other, as one picture; the strip between and the rest above the shorter one is bench
    letter = json.loads(a.letter[1].read_text())
    dpi, gap, sizes = 400, 7.0, ([210.0, 297.0], letter["size_mm"])
    W, H = sizes[0][0] + gap + sizes[1][0], max(s[1] for s in sizes)
    px = lambda v: round(v / 25.4 * dpi)
    bench = Image.open(a.out / "bench.png")
    k, half = bench.width / BENCH["size_mm"][0], BENCH["size_mm"][0] / 2
    bench = bench.crop([round(k * v) for v in (half - W / 2, half - H / 2, half + W / 2, half + H / 2)]).resize((px(W), px(H)))
    lin = ((np.asarray(bench) / 255 + 0.055) / 1.055) ** 2.4            # as the paper's surface maps it: 0.035 + 0.8 x
    big = Image.fromarray((255 * (1.055 * np.clip((lin - 0.035) / 0.8, 0.0031, 1) ** (1 / 2.4) - 0.055)).astype(np.uint8))
    for path, (w, h), x in ((a.out / "sheet-a4.png", sizes[0], 0.0), (a.letter[0], sizes[1], sizes[0][0] + gap)):
        big.paste(Image.open(path).convert("RGB").resize((px(w), px(h)), Image.LANCZOS), (px(x), px(H) - px(h)))
    big.save(a.out / "two-sheets.png")
    write("two-sheets", {"seed": 54, "limit_kb": 700, "lights": light, "sheet": {"png": "two-sheets.png", "size_mm": [W, H]},
                         "parts": [again("key-mat", 105, 150, 2.0), again("wheel", 320, 140, 0.0)],
                         "camera": {**cam(height_mm=430, tilt_deg=3.0, tilt_dir_deg=-90, roll_deg=0.6, look_at_mm=[W / 2, 146]), "focal_35mm": 26}})


if __name__ == "__main__":
    main()
