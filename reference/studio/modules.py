"""Display, keys, wheel, speaker, microphones, metal work, antenna, screws and the cell's stand-in."""
import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union
from circuit import GOLD
from device import (ANTENNA, CELL, CREAM, MARK, MICS, PILLS, RECORD, RED, SCREWS, SLATE, SPEAKER, SPEAKER_R, STRAP, WHEEL,
                    WHEEL_R, Part, bird, crect, disk, rrect, soften)


def display():
    frame = rrect(6.8, 65.2, 57.2, 98.4, 1.0)
    ears = [crect(5.0, 72.0, 4.6, 5.0, 1.6), crect(59.0, 91.6, 4.6, 5.0, 1.6)]
    holes = [disk(4.7, 72.0, 1.1), disk(59.3, 91.6, 1.1)]
    shape = soften(unary_union([frame, *ears]), 0.5) - unary_union(holes)
    p = Part("display", "Display", "display", shape, 1.8, 2, (58, 59, 60), 0.5, mass=11.8, back="stainless", bevel=0.12)
    f = p.face
    p.body()
    pane = rrect(8.6, 67.0, 55.4, 96.6, 0.9)
    p.slab(pane, 1.8, 1.4, side={"rgb": [30, 34, 36], "rough": 0.08, "metal": 0.0}, bevel=0.25)
    for q in [(4.7, 72.0), (59.3, 91.6)]:
        f.paint(disk(*q, 1.8) - disk(*q, 1.1), (120, 120, 118), rough=0.4, metal=0.8)
    f.paint(pane, (13, 14, 16), rough=0.04)
    # what the panel still shows: a level scale, faint as a ghost on a dead liquid crystal
    view = rrect(10.6, 69.1, 53.4, 93.9, 0.5)
    f.paint(view, (46, 54, 47), rough=0.05)
    gx, gy = f.grid()
    rows, cols, m = f.mask(view)
    f.rgb[rows, cols] *= (1 + 0.16 * (gy[rows, cols] - 82) / 12 * m)[..., None]
    ghost = (100, 112, 92)
    how = dict(a=0.62)
    bright = (150, 160, 128)
    for k, (name, y, n) in enumerate((("L", 83.6, 27), ("R", 78.9, 22))):
        f.text(12.6, y, name, 1.7, bright, "bold", **how)
        for j in range(34):
            x = 15.0 + j * 1.07
            f.rect(x, y, 0.78, 2.6, bright if j < n else ghost, a=0.62 if j < n else 0.16)
    for j, v in enumerate(("60", "48", "36", "24", "12", "6", "0")):
        x = 15.0 + np.array([0, 6.2, 12.4, 18.6, 24.8, 30, 35.3])[j]
        f.line([(x, 76.6), (x, 75.8)], 0.18, bright, **how)
        f.text(x, 74.7, v, 1.15, bright, "sans", **how)
    f.text(12.4, 74.7, "dB", 1.0, bright, "sans", **how)
    f.text(11.8, 90.6, "00:11:42", 3.1, bright, "seg", "lm", a=0.75)
    f.disk(35.2, 90.6, 0.95, bright, **how)
    f.text(37.0, 90.6, "REC", 1.7, bright, "bold", "lm", **how)
    f.rect(48.4, 90.6, 4.6, 2.3, bright, **how)
    f.rect(48.4, 90.6, 4.1, 1.8, (46, 54, 47))
    f.rect(47.1, 90.6, 1.2, 1.4, bright, **how)
    f.rect(50.9, 90.6, 0.5, 1.0, bright, **how)
    f.line([(11.6, 87.3), (52.4, 87.3)], 0.14, bright, a=0.35)
    f.text(11.8, 71.4, "DAWN 04:38", 1.35, bright, "mono", "lm", **how)
    f.text(52.2, 71.4, "48 kHz · 24 bit", 1.35, bright, "mono", "rm", **how)
    # water that crept in between the layers
    n = f.noise("creep", 7) + 0.02 * (gx - 32)
    edge = np.exp(-((n - 1.25) / 0.10) ** 2)
    rows, cols, m = f.mask(pane.buffer(-0.6))
    f.rgb[rows, cols] += (np.array([96, 92, 78], np.float32) / 255 - f.rgb[rows, cols]) * (0.18 * edge[rows, cols] * m)[..., None]
    full = np.zeros_like(edge)
    full[rows, cols] = m
    keep = f.rough.copy()
    f.weather(silt=0.28, tide=0.55, dust=0.10, scratches=16, crevice=0.35, scratch_rgb=(92, 94, 92))
    f.rough = np.where(full > 0.5, np.minimum(f.rough, keep + 0.30 * np.clip((f.rough - keep) * 2, 0, 1)), f.rough)
    return p


def key_mat():
    shape = rrect(5.2, 36.4, 42.0, 63.2, 3.2)
    shape -= crect(23.8, 36.0, 4.2, 4.2, 1.2) | crect(24.0, 64.8, 5.4, 3.6, 1.2) | crect(4.6, 51.6, 2.6, 3.6, 1.0)
    shape = soften(shape, 0.6)
    pegs = [(8.4, 52.0), (38.4, 51.6), (24.4, 43.6)]
    shape -= unary_union([disk(x, y, 1.4) for x, y in pegs])
    p = Part("key-mat", "Key mat", "keys", shape, 1.2, 2, (112, 114, 110), 0.6, mass=4.6, back="silicone-rubber", bevel=0.15)
    f = p.face
    p.body()
    keys = [(crect(x, y, 8.4, 6.2, 2.9), CREAM) for x, y in PILLS] + [(disk(*RECORD, 6.1), RED), (disk(*MARK, 5.1), CREAM)]
    for s, rgb in keys:
        web = s.buffer(0.5)
        p.slab(web, 1.2, 0.5, bevel=0.2)
        f.paint(web, (104, 106, 102), rough=0.6)
        p.slab(s, 1.7, 2.6, side={"rgb": list(rgb), "rough": 0.55, "metal": 0.0}, bevel=0.45)
        f.paint(s.buffer(0.05), rgb, rough=0.55)
        f.paint(s.buffer(-0.9), None, soft=0.5, bump=-0.16)
    for x, y in pegs:
        f.line([*disk(x, y, 1.9).exterior.coords], 0.25, (96, 98, 94), bump=0.05)
    rim = shape.buffer(-0.9) - shape.buffer(-1.5)
    f.paint(rim, (98, 100, 97), soft=0.05, bump=0.08)
    f.text(23.8, 39.5, "D3-K1", 0.9, (84, 86, 83), "sans", bump=0.05)
    dark, pale = (62, 60, 54), (238, 226, 206)
    (bx, by), (px, py), (ox, oy) = PILLS
    wedge = lambda x, y, to: Polygon([(x, y + 1.2), (x, y - 1.2), (to, y)])
    f.paint(wedge(bx + 0.1, by, bx - 1.9) | wedge(bx + 2.0, by, bx), dark, a=0.92)
    f.paint(wedge(px - 2.0, py, px + 0.2) | box(px + 0.9, py - 1.2, px + 1.4, py + 1.2) | box(px + 1.8, py - 1.2, px + 2.3, py + 1.2), dark, a=0.92)
    arc = LineString([(ox + 1.15 * np.sin(t), oy - 0.1 + 1.15 * np.cos(t)) for t in np.linspace(0.65, 2 * np.pi - 0.65, 40)])
    f.paint(arc.buffer(0.17) | box(ox - 0.16, oy - 0.1, ox + 0.16, oy + 1.5), dark, a=0.92)
    f.disk(*RECORD, 2.1, pale, a=0.92)
    flag = Polygon([(MARK[0] - 0.9, MARK[1] + 1.9), (MARK[0] + 1.7, MARK[1] + 1.0), (MARK[0] - 0.9, MARK[1] + 0.1)])
    f.paint(flag | box(MARK[0] - 1.2, MARK[1] - 2.1, MARK[0] - 0.85, MARK[1] + 2.0), dark, a=0.92)
    f.shine(0.05, 2, "keys")
    f.weather(silt=0.75, tide=0.6, dust=0.35, scratches=8, wear=0.1, crevice=0.85, scratch_rgb=(170, 165, 150))
    return p


def wheel():
    (cx, cy), n = WHEEL, 60
    a = np.linspace(0, 2 * np.pi, n * 12, endpoint=False)
    r = WHEEL_R - 0.42 + 0.42 * np.clip(1.25 * np.cos(n * a), -1, 1)
    shape = Polygon(np.column_stack([cx + r * np.cos(a), cy + r * np.sin(a)])).simplify(0.004)
    p = Part("wheel", "Level wheel", "wheel", shape, 5.0, 2, SLATE, 0.5, mass=2.9, back="abs", bevel=0.2, ppm=26)
    f = p.face
    p.body()
    f.rounded(shape, 0.8, 0.25)
    p.slab(disk(cx, cy, 8.9) - disk(cx, cy, 6.3), 5.0, 0.5, bevel=0.2)
    p.turned(cx, cy, [[6.3, 5.0], [6.2, 5.05], [3.4, 5.05], [3.3, 5.9], [3.0, 6.15], [0.0, 6.2]])
    f.paint(shape, (48, 51, 51), rough=0.5)
    f.grained(0.004, 0.16, 0.02)
    for k in range(n):                                   # grip lines run on over the shoulder
        t = 2 * np.pi * k / n
        f.line([(cx + q * np.cos(t), cy + q * np.sin(t)) for q in (9.5, 10.9)], 0.5, (60, 63, 62), a=0.6, bump=0.12)
    dish = disk(cx, cy, 6.25)
    f.paint(dish, (190, 191, 190), rough=0.30, metal=1.0)
    gx, gy = f.grid()
    rr = np.hypot(gx - cx, gy - cy)
    marks = np.random.default_rng(3).standard_normal(900).astype(np.float32)
    ring = np.interp(rr.ravel() * 16, np.arange(900), marks).reshape(rr.shape).astype(np.float32) * (rr < 6.25)
    f.bump += 0.0022 * ring
    f.rgb *= (1 + 0.05 * ring)[..., None]
    f.line([*disk(cx, cy, 3.42).exterior.coords], 0.24, (70, 70, 68), a=0.8, metal=0.5)
    for k in range(11):
        t = np.radians(225 - 27 * k)
        c, s = np.cos(t), np.sin(t)
        f.text(cx + 7.8 * c, cy + 7.8 * s, str(k), 1.35, CREAM, "sans", turn=np.degrees(t) - 90, a=0.95, rough=0.5)
    for k in range(51):
        t = np.radians(225 - 27 * k / 5)
        c, s = np.cos(t), np.sin(t)
        f.line([(cx + 6.5 * c, cy + 6.5 * s), (cx + (7.0 if k % 5 == 0 else 6.75) * c, cy + (7.0 if k % 5 == 0 else 6.75) * s)], 0.13, CREAM, a=0.9)
    f.paint(bird(cx, cy + 0.2, 3.4), (70, 72, 70), metal=0.3, rough=0.6, a=0.85, bump=-0.04)
    f.weather(silt=0.55, tide=0.45, dust=0.35, scratches=14, wear=0.3, crevice=0.8, scratch_rgb=(130, 132, 130))
    return p


def speaker():
    (cx, cy), r = SPEAKER, SPEAKER_R
    ears = []
    holes = []
    for a in (45, 135, 225, 315):
        c, s = np.cos(np.radians(a)), np.sin(np.radians(a))
        q = Point(cx + (r + 1.6) * c, cy + (r + 1.6) * s)
        ears.append(unary_union([q.buffer(2.7), Point(cx + (r - 3) * c, cy + (r - 3) * s).buffer(3.2)]).convex_hull)
        holes.append((q.x, q.y))
    tab = crect(cx, cy - r - 1.0, 11.0, 6.0, 0.8)
    shape = soften(unary_union([disk(cx, cy, r), *ears, tab]), 0.7)
    t = 4.2
    p = Part("speaker", "Loudspeaker", "speaker", shape, t, 2, (58, 58, 58), 0.45, mass=12.4, back="steel", bevel=0.15)
    f = p.face
    well = disk(cx, cy, 12.2)
    pocket = crect(cx, cy - r - 1.5, 8.4, 2.6, 0.4)
    p.slab(p.outline, 0, 1.2, bevel=0.0)
    wells = unary_union([disk(x, y, 0.95) for x, y in holes])
    p.slab(p.outline - well - pocket - wells, 1.2, t - 1.2, bevel=0.15, edge=True)
    f.height[:] = 0
    f.raised(p.outline - well - pocket - wells, t)
    roll = [[12.2, 3.4]] + [[11.0 + 1.05 * np.cos(q), 3.3 + 0.75 * np.sin(q)] for q in np.linspace(0.1, np.pi - 0.1, 9)]
    cone = [[9.9, 3.2], [9.6, 3.0], [4.6, 1.6]]
    cap = [[4.5, 1.62]] + [[4.5 * np.cos(q), 1.65 + 1.35 * np.sin(q)] for q in np.linspace(0.05, np.pi / 2, 9)]
    cap[-1][0] = 0.0
    p.turned(cx, cy, roll + cone + cap, segments=144)
    p.height = t
    f.paint(p.outline, (60, 60, 60), rough=0.42)
    f.grained(0.003, 0.16, 0.02)
    for x, y in holes:                                   # threaded brass inserts
        f.disk(x, y, 1.65, (188, 156, 92), rough=0.32, metal=1.0, bump=0.05)
        f.line([*disk(x, y, 1.3).exterior.coords], 0.14, (120, 96, 54), metal=0.6, a=0.7)
        f.disk(x, y, 1.0, (26, 24, 20), rough=0.8, metal=0.0)
    f.line([*disk(cx, cy, 13.2).exterior.coords], 0.3, (84, 84, 83), a=0.6, bump=0.06)
    f.paint(well, (34, 34, 35), rough=0.5)
    f.paint(disk(cx, cy, 9.9), (96, 90, 78), rough=0.9)
    f.paint(disk(cx, cy, 9.9) - disk(cx, cy, 9.35), (74, 69, 60), rough=0.8)
    gx, gy = f.grid()
    rr, th = np.hypot(gx - cx, gy - cy), np.arctan2(gy - cy, gx - cx)
    pulp = f.noise("pulp", 0.7, 2)
    on_cone = (rr < 9.4) & (rr > 4.5)
    f.rgb *= (1 + 0.07 * np.clip(pulp, -2, 2) * on_cone)[..., None]
    f.bump += on_cone * (0.03 * np.cos(rr * 2 * np.pi / 1.25) + 0.012 * pulp)
    f.paint(disk(cx, cy, 4.55), (52, 50, 47), rough=0.6)
    f.line([*disk(cx, cy, 4.55).exterior.coords], 0.28, (38, 37, 35), a=0.9)
    # lead-outs, terminals
    f.paint(pocket, (150, 118, 70), rough=0.7)
    for s in (-1, 1):
        x = cx + s * 2.3
        p.slab(crect(x, cy - r - 1.5, 2.2, 1.8, 0.2), 1.2, 0.5, side={"rgb": [214, 184, 112], "rough": 0.35, "metal": 1.0}, bevel=0.05)
        f.rect(x, cy - r - 1.5, 2.24, 1.84, GOLD, r=0.2, rough=0.34, metal=1.0)
        p.turned(x, cy - r - 1.5, [[0.75, 1.7], [0.6, 2.1], [0.25, 2.3], [0.0, 2.32]], segments=40)
        f.disk(x, cy - r - 1.5, 0.78, (204, 203, 198), rough=0.22, metal=1.0)
        f.text(cx + s * 4.75, cy - r + 0.55, "−+"[(s + 1) // 2], 1.2, (196, 194, 186), "bold", a=0.9)
    for k, ch in enumerate("8 Ω · 0.7 W"):
        a = np.radians(90 + 25 - 5.0 * k)
        f.text(cx + 13.15 * np.cos(a), cy + 13.15 * np.sin(a), ch, 1.1, (214, 212, 204), "bold", turn=np.degrees(a) - 90, a=0.95)
    f.weather(silt=0.5, tide=0.4, dust=0.3, scratches=6, wear=0.3, crevice=0.35, scratch_rgb=(130, 130, 128))
    f._film(0.55 * np.clip(f.noise("sodden", 5) - 0.6, 0, 1) * (rr < 9.4), np.array([70, 58, 42], np.float32) / 255, 0.9)
    return p


def mic_bar():
    shape = rrect(8.4, 103.2, 55.6, 116.8, 6.7) - unary_union([box(26.5, 115.2, 37.5, 118), box(22, 102, 27, 104.2), box(37, 102, 42, 104.2)])
    shape = soften(shape, 0.6) - disk(32, 110, 1.7) - disk(25.2, 110, 0.85) - disk(38.8, 110, 0.85)
    p = Part("mic-bar", "Microphone bar", "microphone", shape, 2.0, 2, (182, 184, 184), 0.33, metal=1.0, mass=7.2, back="aluminium", bevel=0.15)
    f = p.face
    p.body()
    f.brushed(True, 0.0016, 0.035)
    f.paint(disk(32, 110, 3.4) - disk(32, 110, 1.7), None, bump=-0.08, soft=0.06)
    for k, (x, y) in enumerate(MICS):
        rubber = {"rgb": [40, 41, 41], "rough": 0.8, "metal": 0.0}
        p.slab(disk(x, y, 5.1), 2.0, 1.2, side=rubber, bevel=0.3)
        f.disk(x, y, 5.15, (40, 41, 41), rough=0.8, metal=0.0)
        p.turned(x, y, [[4.3, 3.2], [4.3, 5.3], [4.2, 5.55], [3.9, 5.65], [3.2, 5.62], [3.1, 5.35], [0.0, 5.35]], segments=120)
        f.disk(x, y, 4.32, (196, 196, 192), rough=0.3, metal=1.0)
        f.disk(x, y, 3.15, (26, 26, 27), rough=0.95, metal=0.0)
        rows, cols, m = f.mask(disk(x, y, 3.1))
        n = f.noise("felt", 0.3, 2)[rows, cols]
        f.rgb[rows, cols] *= (1 + 0.3 * np.clip(n, -2, 2) * m)[..., None]
        f.bump[rows, cols] += 0.03 * n * m
        for j in range(7):
            a = np.radians(60 * j)
            d = 0 if j == 6 else 1.55
            f.disk(x + d * np.cos(a), y + d * np.sin(a), 0.36, (8, 8, 8), bump=-0.1)
        a0 = -135 if k == 0 else -45
        f.text(x + (6.9 if k == 0 else -6.9), 113.4, "LR"[k], 1.8, (30, 30, 30), "bold", metal=0.0, rough=0.6, a=0.92)
    f.text(32, 105.6, "TARNWICK  D3-M2", 1.1, (30, 30, 30), "bold", spacing=0.1, metal=0.0, rough=0.6, a=0.92)
    f.text(32, 113.8, "MATCHED PAIR 0417", 0.9, (34, 34, 34), "mono", metal=0.0, rough=0.6, a=0.9)
    f.weather(silt=0.5, tide=0.5, dust=0.45, scratches=40, crevice=0.75, scratch_rgb=(214, 214, 212))
    bare = np.clip(1 - 4 * np.clip(f.height - 2.0, 0, 1), 0, 1)
    f.bloom((198, 199, 194), "white rust", 0.4, 1.6, 1.75, bare)
    return p


def cell_bracket():
    (xa, y), (xb, _) = STRAP
    band = rrect(12.0, 62.6, 52.0, 77.4, 2.6)
    arms = unary_union([rrect(xa - 3.0, y - 3.2, 16, y + 3.2, 2.9), rrect(48, y - 3.2, xb + 3.0, y + 3.2, 2.9)])
    shape = unary_union([band, arms]) - unary_union([crect(19.2, 70, 6.4, 7.6, 2.2), crect(44.8, 70, 6.4, 7.6, 2.2)])
    shape = soften(shape, 1.2) - disk(xa, y, 1.2) - crect(xb, y, 3.0, 2.3, 1.14)
    p = Part("cell-bracket", "Cell bracket", "bracket", shape, 0.8, 6, (152, 151, 147), 0.36, metal=1.0, mass=3.9, back="stainless", bevel=0.12)
    f = p.face
    p.body()
    f.brushed(True, 0.0022, 0.045)
    for yy in (64.7, 75.3):                              # pressed stiffening beads, and the bends where the arms step down
        f.paint(crect(32, yy, 33, 1.5, 0.74), None, soft=0.16, bump=0.30)
    for x in (13.2, 50.8):
        f.paint(box(x - 0.5, y - 3, x + 0.5, y + 3), None, soft=0.3, bump=-0.22)
    f.paint(crect(32, 70, 15.4, 5.6, 1.2), None, soft=0.2, bump=-0.12)
    f.text(32, 71.2, "TARNWICK", 1.6, (44, 43, 41), "mark", spacing=0.2, metal=0.1, rough=0.6, bump=-0.02, a=0.9)
    f.text(32, 68.7, "CELL BRACKET D3-B1", 0.95, (52, 51, 48), "mono", metal=0.1, rough=0.6, a=0.9)
    for q in (disk(xa, y, 2.4) - disk(xa, y, 1.2),):
        f.paint(q, None, soft=0.08, bump=-0.07)
    f.weather(silt=0.5, tide=0.9, dust=0.25, scratches=50, crevice=0.2, scratch_rgb=(196, 196, 192))
    f.bloom((122, 74, 42), "rust", 0.75, 1.5, 1.75)
    return p


def shield_plate():
    x0, y0, x1, y1 = 13.0, 79.6, 57.0, 99.4
    shape = rrect(x0, y0, x1, y1, 1.0) - rrect(x0 - 1, y0 - 1, 22.0, 84.0, 0.8)
    for x in np.arange(25.0, 55.0, 6.4):                 # solder tabs
        shape = shape.union(crect(x, y1 + 0.6, 2.8, 3.2, 0.4))
        if x > 26:
            shape = shape.union(crect(x, y0 - 0.6, 2.8, 3.2, 0.4))
    shape = shape.union(crect(x0 - 0.6, 91, 3.2, 2.8, 0.4))
    shape = soften(shape, 0.45) - crect(20.0, 88.8, 2.6, 7.0, 1.28) - disk(53.6, 83.0, 1.3) - crect(44.6, 89.8, 9.6, 6.4, 1.0)
    p = Part("shield-plate", "Shield plate", "shield", shape, 0.5, 5, (198, 122, 86), 0.34, metal=1.0, mass=3.1, back="copper", bevel=0.08)
    f = p.face
    p.body()
    f.brushed(True, 0.0016, 0.03)
    f.shine(0.05, 3, "copper")
    gx, gy = f.grid()
    dimples = [(x, y) for x in np.arange(25.6, 38.5, 2.9) for y in np.arange(83.4, 97.5, 2.9)]
    for x, y in dimples:
        f.disk(x, y, 0.62, soft=0.14, bump=-0.14)
    f.paint(rrect(x0 + 1.2, y0 + 1.2, x1 - 1.2, y1 - 1.2, 1.0).buffer(0).boundary.buffer(0.25) & shape.buffer(-0.5), None, soft=0.12, bump=0.12)
    f.text(47.2, 96.2, "D3-S1", 1.4, (58, 32, 24), "bold", metal=0.3, rough=0.6, a=0.85)
    # heat and age: the copper has gone brown, pink where it was covered
    n = f.noise("tarnish", 8)
    brown = np.array([116, 66, 46], np.float32) / 255
    f.rgb += (brown - f.rgb) * (0.6 * np.clip(0.45 + 0.4 * n, 0, 1))[..., None]
    f.weather(silt=0.35, tide=0.9, dust=0.15, scratches=30, crevice=0, scratch_rgb=(226, 150, 112))
    f.bloom((110, 164, 140), "verdigris", 0.85, 3.0, 1.05)
    f.bloom((94, 150, 130), "verdigris2", 0.7, 1.2, 1.7)
    return p


def antenna():
    x0, y0, x1, y1 = ANTENNA
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    shape = rrect(x0, y0, x1, y1, 0.5)
    p = Part("antenna", "Position antenna", "antenna", shape, 4.0, 6, (150, 122, 92), 0.5, mass=4.4, back="none", bevel=0.15, ppm=26)
    f = p.face
    p.body()
    f.grained(0.003, 0.12, 0.03)
    patch = rrect(x0 + 1.7, y0 + 1.7, x1 - 1.7, y1 - 1.7, 0.15)
    cut = lambda x, y, s: Polygon([(x, y), (x + 2.0 * s, y), (x, y + 2.0 * s)])
    patch = patch - cut(x0 + 1.7, y0 + 1.7, 1) - cut(x1 - 1.7, y1 - 1.7, -1)
    f.paint(patch, (214, 212, 204), rough=0.42, metal=0.95, bump=0.03)
    n = f.noise("silver", 1.2, 3)
    rows, cols, m = f.mask(patch)
    f.rgb[rows, cols] *= (1 + 0.05 * n[rows, cols] * m)[..., None]
    fx, fy = cx + 1.4, cy - 0.9
    p.turned(fx, fy, [[1.35, 4.0], [1.15, 4.35], [0.75, 4.55], [0.3, 4.62], [0.0, 4.63]], segments=64)
    f.disk(fx, fy, 1.4, (205, 204, 198), rough=0.2, metal=1.0)
    f.text(cx, y1 - 0.9, "TARNWICK  D3-A1", 0.85, (40, 30, 22), "bold", a=0.95)
    f.text(cx, y0 + 0.88, "POSITION ANTENNA", 0.85, (40, 30, 22), "bold", a=0.95)
    f.weather(silt=0.4, tide=0.4, dust=0.35, scratches=14, crevice=0.5, scratch_rgb=(160, 158, 150))
    tarnish = np.clip(f.noise("sulphide", 3) - 0.4, 0, 1)[rows, cols] * m
    f.rgb[rows, cols] += (np.array([120, 104, 84], np.float32) / 255 - f.rgb[rows, cols]) * (0.5 * tarnish)[..., None]
    return p


def screw(k):
    x, y = SCREWS[k]
    head = disk(x, y, 2.5)
    p = Part(f"screw-{k + 1}", ("Case screw, head", "Case screw, foot left", "Case screw, foot right")[k], "screw", head, 2.2, 0, (150, 148, 143), 0.34, metal=1.0,
             mass=0.6, back="stainless", bevel=0.3, ppm=40)
    f = p.face
    turn = (17, 52, 80)[k]
    arm = unary_union([box(x - 1.55, y - 0.36, x + 1.55, y + 0.36), box(x - 0.36, y - 1.55, x + 0.36, y + 1.55), crect(x, y, 1.3, 1.3, 0.3)])
    arm = soften(affinity.rotate(arm, turn, origin=(x, y)), 0.08)
    p.slab(head, 0, 1.2, bevel=0.0)
    p.slab(head - arm, 1.2, 1.0, bevel=0.3, edge=True)
    f.raised(arm, 1.2)
    f.turned(x, y, 0.0016, 0.06)
    f.rounded(head, 0.9, 0.18)
    f.paint(arm.buffer(0.03), (64, 60, 54), rough=0.7, metal=0.3)
    f.disk(x, y, 0.3, (28, 26, 24), metal=0.0)
    f.weather(silt=0.35, tide=0.2, dust=0.3, scratches=10, crevice=0.6, scratch_rgb=(190, 188, 184))
    f.bloom((118, 72, 42), "rust", 0.9, 0.9, 0.9, np.clip(0.25 + f.crevices(0.5), 0, 1))
    return p


def cell():
    x0, y0, x1, y1 = CELL
    cx, cy = (x0 + x1) / 2, (y0 + y1) / 2
    shape = rrect(x0, y0, x1, y1, 1.2)
    p = Part("cell", "Cell (stand-in)", "cell", shape, 1.5, 7, (176, 150, 92), 0.85, mass=2.2, back="card", bevel=0.08,
             stand_in={"why": "a lithium cell is never mounted: it was recycled, this printed card has its size", "form": "card"})
    f = p.face
    p.side = {"rgb": [150, 140, 120], "rough": 0.9, "metal": 0.0}
    p.body()
    f.paint(shape, (172, 147, 92), rough=0.85)
    fibre = f.g.standard_normal((f.h, f.w)).astype(np.float32)
    fibre = cv2.GaussianBlur(fibre, (0, 0), 1.6)
    fibre /= fibre.std()
    f.rgb *= (1 + 0.018 * fibre)[..., None]
    f.bump += 0.0018 * fibre
    ink, pale = (58, 50, 36), (232, 222, 196)
    f.paint(box(x0 + 1.6, y1 - 9.4, x1 - 1.6, y1 - 1.6), (70, 66, 54))
    f.text(cx, y1 - 5.5, "STAND-IN", 3.3, pale, "mark", spacing=0.9)
    inner = rrect(x0 + 1.6, y0 + 1.6, x1 - 1.6, y1 - 1.6, 0.4)
    f.line([*inner.exterior.coords], 0.22, ink)
    f.text(cx, y1 - 13.6, "here sat the recorder's cell", 1.5, ink, "book")
    f.text(cx, cy + 5.2, "3.7 V", 4.4, ink, "bold")
    f.text(cx, cy - 0.6, "Li-ion · 1100 mAh · 4.1 Wh", 1.7, ink, "sans")
    f.line([(x0 + 5, cy - 3.6), (x1 - 5, cy - 3.6)], 0.16, ink)
    f.text(cx, cy - 6.4, "recycled · not part of this display", 1.45, ink, "sans")
    f.text(cx, cy - 9.1, "printed card, cut to the cell's size", 1.25, ink, "sans")
    for x, s in ((x0 + 6.4, "+"), (x1 - 6.4, "−")):
        f.line([*disk(x, y0 + 6.6, 2.3).exterior.coords], 0.3, ink)
        f.text(x, y0 + 6.5, s, 2.6, ink, "bold")
    f.text(cx, y0 + 6.6, "42 × 47 mm", 1.5, ink, "mono")
    f.line([(x0 + 10.4, y0 + 6.6), (cx - 6.8, y0 + 6.6)], 0.14, ink)
    f.line([(cx + 6.8, y0 + 6.6), (x1 - 10.4, y0 + 6.6)], 0.14, ink)
    return p                                             # made after the accident: no mud on it
