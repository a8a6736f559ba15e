"""The two halves of the case."""
import numpy as np
from shapely.geometry import LineString, box
from shapely.ops import unary_union
from device import (ANTENNA, CASE, CELL, CREAM, MICS, MOSS, MOSS_IN, MARK, PILLS, POSTS, RECORD, SCREWS, SPEAKER, STRAP,
                    WHEEL, WHEEL_R, WINDOW, Part, bird, crect, disk, rrect, soften)

FRONT_T, BACK_T, FLOOR = 5.6, 9.0, 2.0


def key_openings():
    return [crect(x, y, 9.4, 7.4, 3.4) for x, y in PILLS] + [disk(*RECORD, 6.6), disk(*MARK, 5.6)]


def front_shell():
    wheel = disk(*WHEEL, WHEEL_R + 0.5)
    outline = soften(CASE - wheel, 0.5) - rrect(*WINDOW, 2.4) - unary_union(key_openings())
    p = Part("front-shell", "Front shell", "shell", outline, FRONT_T, 1, MOSS, 0.55, mass=17.5, back="abs", bevel=0.3)
    f = p.face
    rings = [(0, 1)] + [(2.35 * k, 6 * k) for k in range(1, 6)]
    pits = [disk(SPEAKER[0] + r * np.cos(a), SPEAKER[1] + r * np.sin(a), 0.72)
            for r, n in rings for a in np.arange(n) * 2 * np.pi / max(n, 1) + 0.1 * r]
    slots = []
    for cx, cy in MICS:
        for dx in np.arange(-4.8, 4.9, 2.4):
            h = np.sqrt(6.6**2 - dx**2)
            slots.append(crect(cx + dx, cy, 1.3, 2 * h - 1.0, 0.64))
    sunk = [disk(x, y, 2.9) for x, y in SCREWS]
    lens = disk(50.6, 98.6, 0.9)
    depth = 1.5
    p.slab(p.outline, 0, FRONT_T - depth, bevel=0.0)
    p.slab(p.outline - unary_union(pits + slots + sunk + [lens]), FRONT_T - depth, depth, bevel=0.3, edge=True)
    for s in pits + slots + sunk:
        f.raised(s, FRONT_T - depth)

    f.grained(0.0045, 0.16, 0.022)
    f.shine(0.03, 4, "front")
    f.rounded(p.outline, 1.7, 0.42)
    # a shallow dished field under the keys and a raised rim round the window, shaded
    field = rrect(4.6, 36.4, 42.2, 63.6, 4.5)
    f.paint(field, None, soft=0.35, bump=-0.22)
    f.paint(field, (86, 92, 74), soft=0.3, a=0.55)
    bezel = rrect(6.2, 65.2, 57.8, 97.0, 4.0)
    f.paint(bezel, (40, 42, 40), rough=0.38, soft=0.04)
    f.paint(bezel, None, soft=0.25, bump=0.16)
    f.line([*bezel.exterior.coords], 0.35, (62, 66, 56), a=0.6)
    grille = disk(*SPEAKER, 13.4)
    f.paint(grille, None, soft=0.5, bump=-0.18)
    for s in pits:
        f.paint(s.buffer(0.12), (22, 23, 22), rough=0.7)
    for s in slots:
        f.paint(s.buffer(0.1), (20, 21, 20), rough=0.7)
        x0, y0, x1, y1 = s.bounds
        for y in np.arange(y0, y1, 0.42):                # woven mesh behind the slots
            f.line([(x0, y), (x1, y)], 0.1, (70, 70, 66), a=0.75)
        for x in np.arange(x0 + 0.1, x1, 0.42):
            f.line([(x, y0), (x, y1)], 0.1, (62, 62, 58), a=0.75)
    for s, (x, y) in zip(sunk, SCREWS):
        f.paint(s.buffer(0.1), (58, 62, 50), rough=0.6)
        f.disk(x, y, 1.45, (14, 14, 13))
        f.line([*disk(x, y, 2.0).exterior.coords], 0.2, (96, 100, 84), a=0.5)
    f.paint(lens.buffer(0.1), (92, 24, 18), rough=0.08)
    # printing
    ink = dict(rough=0.5)
    f.paint(bird(11.2, 101.2, 4.6), CREAM, a=0.9, **ink)
    f.text(14.6, 100.9, "TARNWICK", 2.0, CREAM, "mark", "lm", spacing=0.28, a=0.92, **ink)
    f.text(55.4, 100.9, "Dipper 3", 1.75, CREAM, "book", "rm", a=0.92, **ink)
    f.text(52.6, 98.6, "REC", 0.95, CREAM, "sans", "lm", a=0.85)
    f.text(32, 66.6, "FIELD RECORDER  ·  TWO CHANNELS", 1.0, (190, 186, 166), "sans", spacing=0.16, a=0.9, **ink)
    for (x, y), word in zip(PILLS, ("BACK", "PLAY", "ON")):
        f.text(x, y + 4.72, word, 1.05, CREAM, "sans", spacing=0.12, a=0.9, **ink)
    f.text(RECORD[0], 36.95, "RECORD", 1.05, CREAM, "sans", spacing=0.12, a=0.9, **ink)
    f.text(MARK[0], 36.95, "MARK", 1.05, CREAM, "sans", spacing=0.12, a=0.9, **ink)
    for k in range(11):
        a = np.radians(90 + k * 18)
        c, s = np.cos(a), np.sin(a)
        r0, r1 = WHEEL_R + 0.9, WHEEL_R + (1.9 if k % 5 == 0 else 1.5)
        f.line([(WHEEL[0] + r0 * c, WHEEL[1] + r0 * s), (WHEEL[0] + r1 * c, WHEEL[1] + r1 * s)], 0.22, CREAM, a=0.9, **ink)
    f.text(50.4, 37.9, "LEVEL", 1.15, CREAM, "sans", spacing=0.16, a=0.9, **ink)
    f.line([*disk(*SPEAKER, 13.4).exterior.coords], 0.16, (112, 117, 96), a=0.5)
    f.text(MICS[0][0] - 8.6, 110, "L", 1.2, CREAM, "sans", a=0.85)
    f.text(MICS[1][0] + 8.6, 110, "R", 1.2, CREAM, "sans", a=0.85)
    f.weather(silt=0.85, tide=0.9, dust=0.35, scratches=60, wear=0.35, crevice=0.75, scratch_rgb=(140, 143, 124))
    return p


def back_shell():
    thumb = disk(67.4, 52.0, 8.2)
    outline = soften(CASE - thumb, 0.6)
    p = Part("back-shell", "Back shell", "shell", outline, BACK_T, 8, MOSS_IN, 0.55, mass=22.0, back="abs", bevel=0.2)
    f, solid = p.face, p.outline
    wall = solid.buffer(-2.0, join_style="round", quad_segs=32)
    lip = wall.buffer(-0.9, quad_segs=32)
    p.slab(solid, 0, FLOOR, bevel=0.0)
    p.slab(solid - wall, FLOOR, BACK_T - FLOOR, bevel=0.2, edge=True)
    p.slab(wall.buffer(0.02) - lip, FLOOR, 6.6 - FLOOR, bevel=0.08)
    room = lip.buffer(-0.01)

    def rib(pts, z, w=1.1, keep=room):
        g = (LineString(pts).buffer(w / 2, cap_style="flat", join_style="mitre") & keep)
        p.slab(g, FLOOR, z - FLOOR, bevel=0.1)

    # the wheel's recess: a curved wall
    rim = (disk(*WHEEL, 12.9) - disk(*WHEEL, 11.9)) & room & box(40, 38, 62, 66)
    # cell bay
    x0, y0, x1, y1 = CELL
    bay_out, bay_in = rrect(x0 - 1.6, y0 - 1.6, x1 + 1.6, y1 + 1.6, 2.0), rrect(x0 - 0.5, y0 - 0.5, x1 + 0.5, y1 + 0.5, 1.2)
    gaps = unary_union([box(x0 - 4, 66, x0 + 1, 74), box(x1 - 1, 66, x1 + 4, 74), box(27, y1 - 2, 37, y1 + 4), box(24, y0 - 4, 40, y0 + 2),
                        disk(*WHEEL, 12.4)])
    bay = bay_out - bay_in - gaps
    p.slab(bay, FLOOR, 3.6, bevel=0.1)
    # bosses with their holes; the screws' ones are stiffened by gussets
    for x, y in SCREWS:
        for a in (0, 90, 180, 270):
            c, s = np.cos(np.radians(a + 45)), np.sin(np.radians(a + 45))
            rib([(x + 2.4 * c, y + 2.4 * s), (x + 5.4 * c, y + 5.4 * s)], 6.0, 0.9)
        p.slab(disk(x, y, 3.3), FLOOR, 4.6, bevel=0.1)
        p.slab(disk(x, y, 3.3) - disk(x, y, 1.05), FLOOR + 4.6, 1.6, bevel=0.15)
    for x, y in POSTS + STRAP:
        r = 2.0
        p.slab(disk(x, y, r) & room, FLOOR, 3.4, bevel=0.1)
        p.slab((disk(x, y, r) - disk(x, y, 0.8)) & room, FLOOR + 3.4, 1.4, bevel=0.12)
    # sound chamber behind the speaker, antenna pocket, floor ribs
    p.slab(disk(*SPEAKER, 13.2) - disk(*SPEAKER, 12.0) - box(29, 30, 35, 35), FLOOR, 4.2, bevel=0.12)
    ax0, ay0, ax1, ay1 = ANTENNA
    pocket = (rrect(ax0 - 1.5, ay0 - 1.5, ax1 + 1.5, ay1 + 1.5, 1.4) - rrect(ax0 - 0.4, ay0 - 0.4, ax1 + 0.4, ay1 + 0.4, 0.5)
              - box(44, ay0 - 3, 49, ay0 + 1)) & room
    p.slab(pocket, FLOOR, 2.6, bevel=0.1)
    for y in (102.0, 105.5, 109.0, 112.5):
        rib([(9.5 if y < 110 else 13, y), (27.2, y)], 3.4, 0.9)
    for x in (13.0, 18.4, 23.8):
        rib([(x, 98.8), (x, 116)], 3.0, 0.9)
    for pts in ([(2, 38.4), (24, 38.4)], [(26.6, 38.4), (40, 38.4)], [(2, 27), (17.6, 24.6)], [(62, 27), (46.4, 24.6)],
                [(2, 16), (18.4, 16)], [(62, 16), (45.6, 16)], [(24, 1), (26.5, 8)], [(40, 1), (37.5, 8)]):
        rib(pts, 4.4, 1.0)
    p.slab(rim, FLOOR, 4.4, bevel=0.1)

    f.grained(0.003, 0.2, 0.016)
    f.shine(0.04, 6, "back")
    f.rounded(solid, 0.7, 0.14)
    # floor colours: pads, foams, legends
    f.paint(bay_in, (80, 86, 72), a=0.6)
    foam = [rrect(x0 + 2.4, y0 + 3.0, x1 - 14.5, y0 + 9.0, 0.4), rrect(x0 + 2.4, y1 - 9.0, x1 - 2.4, y1 - 3.0, 0.4)]
    for q in foam:
        f.paint(q, (44, 45, 44), rough=0.95)
    n = f.noise("foam", 0.5, 2)
    for q in foam:
        rows, cols, m = f.mask(q)
        f.bump[rows, cols] += 0.06 * n[rows, cols] * m
        f.rgb[rows, cols] *= (1 + 0.10 * np.clip(n[rows, cols], -2, 2) * m)[..., None]
    emboss = dict(bump=0.16, a=0.62)
    light = (124, 129, 110)
    cx = (x0 + x1) / 2
    f.text(cx, 78.2, "CELL", 4.2, light, "bold", spacing=1.1, **emboss)
    f.text(cx, 71.6, "3.7 V  Li-ion  1100 mAh", 1.7, light, "sans", **emboss)
    f.text(cx, 66.8, "DO NOT OPEN · DO NOT HEAT", 1.25, light, "sans", **emboss)
    for x, sign in ((x0 + 6.5, "+"), (x1 - 15.4, "−")):
        f.line([*disk(x, 60.3, 2.6).exterior.coords], 0.35, light, **emboss)
        f.text(x, 60.2, sign, 2.8, light, "bold", **emboss)
    f.line([(x0 + 12, 60.3), (x1 - 21, 60.3)], 0.4, light, **emboss)
    f.paint(unary_union([LineString([(x1 - 22.6, 59.2), (x1 - 20.4, 60.3), (x1 - 22.6, 61.4)]).buffer(0.2)]), light, **emboss)
    f.text(32, 20.4, "TARNWICK", 1.9, light, "mark", spacing=0.3, **emboss)
    f.text(32, 16.6, "D3-02  REV B", 1.15, light, "sans", **emboss)
    f.text(32, 23.8, ">ABS<", 1.15, light, "sans", **emboss)
    f.line([*disk(52.6, 22.0 + 12.2, 2.5).exterior.coords], 0.22, light, **emboss)      # the mould's date insert
    for k in range(12):
        a = np.radians(30 * k)
        f.text(52.6 + 1.85 * np.sin(a), 34.2 + 1.85 * np.cos(a), str(k + 1), 0.5, light, "sans", turn=-30 * k, **emboss)
    f.line([(52.6, 33.2), (52.6, 35.1)], 0.25, light, **emboss)
    f.text(11.0, 33.6, "2", 2.0, light, "bold", **emboss)
    f.line([*disk(11.0, 33.6, 2.0).exterior.coords], 0.22, light, **emboss)
    for x, y in ((20, 43.2), (44.0, 97.0), (8.6, 21.0), (55.6, 21.0), (21.0, 96.8)):      # ejector pin marks
        f.line([*disk(x, y, 1.5).exterior.coords], 0.12, (66, 70, 58), a=0.7, bump=-0.05)
    for x, y in SCREWS:
        f.disk(x, y, 1.15, (26, 27, 25))
    for x, y in POSTS + STRAP:
        f.disk(x, y, 0.88, (30, 31, 28))
    f.weather(silt=0.95, tide=0.95, dust=0.4, scratches=26, wear=0.25, crevice=1.0, scratch_rgb=(132, 136, 118))
    return p
