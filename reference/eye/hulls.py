"""Hulls of devices for practice scenes: deep trays that lie open, and fronts with windows, most of them as light as paper."""
import numpy as np
from shapely import affinity
from shapely.geometry import box
from shapely.ops import unary_union
import make_parts as mp
from odd_parts import COLOURED, MATERIALS, NEW, coloured, tone_of
from recessed import body_record, gathered, laid, main_piece


def rim_of(g):
    """A hull's outline: a rounded rectangle or a soft blob of that size, with corners cut off and bays."""
    w, h = g.uniform(34, 80), g.uniform(50, 150)
    outline = mp.rrect(-w / 2, -h / 2, w / 2, h / 2, g.uniform(1, 16))
    if g.random() < 0.2:
        outline = affinity.scale(mp.disk(0, 0, w / 2), 1, h / w)
    for _ in range(g.choice([0, 0, 1, 2])):             # corners cut off
        x, y = g.choice([-1, 1], 2)
        a, b = g.uniform(5, 0.35 * w), g.uniform(5, 0.35 * h)
        outline -= box(*np.sort([[x * (w / 2 - a), y * (h / 2 - b)], [x * w, y * h]], axis=0).ravel())
    for _ in range(g.integers(0, 4)):                   # bays
        x, y = g.uniform(-0.4, 0.4) * w, g.choice([-1, 1]) * h / 2
        outline -= mp.disk(x, y, g.uniform(1.5, 8)) if g.random() < 0.4 else mp.rrect(x - g.uniform(2, 9), y - g.uniform(1, 6), x + g.uniform(2, 9), y + g.uniform(1, 6), 1)
    return main_piece(mp.soften(main_piece(outline), g.uniform(0.3, 2)))


def tray(g):
    """Bodies of a tray: the floor, which is the part's outline, its wall with gaps, ribs and posts."""
    outline = rim_of(g)
    low, high = g.uniform(0.6, 2.2), g.uniform(0.8, 10)
    high = min(high, 12 - low)
    wall = outline.buffer(-g.uniform(0, 0.3)) - outline.buffer(-g.uniform(0.8, 3.5))
    x0, y0, x1, y1 = outline.bounds
    for _ in range(g.integers(0, 5)):                   # gaps for plugs and keys
        x, y, r = *g.uniform((x0, y0), (x1, y1)), g.uniform(2, 7)
        wall -= box(x0 - 1, y - r, (x0 + x1) / 2, y + r) if g.random() < 0.5 else box(x - r, (y0 + y1) / 2, x + r, y1 + 1)
    room, floor = outline.buffer(-4), outline
    for _ in range(g.choice([0, 0, 1, 3, 6])):          # holes in the floor
        x, y = g.uniform((x0, y0), (x1, y1))
        hole = mp.disk(x, y, g.uniform(0.6, 4)) if g.random() < 0.6 else mp.rrect(x, y, x + g.uniform(1, 20), y + g.uniform(1, 12), 0.8)
        if room.contains(hole):
            floor, room = floor - hole, room - hole.buffer(1.5)
    bodies = [(floor, 0.0, low)] + [(q, low, high) for q in getattr(wall, "geoms", [wall]) if q.area > 1]
    for _ in range(g.integers(0, 14)):                  # ribs and posts
        x, y, kind = *g.uniform((x0, y0), (x1, y1)), g.random()
        if kind < 0.3:
            post = mp.disk(x, y, g.uniform(1, 4))
            post = post - mp.disk(x, y, g.uniform(0.5, 1)) if post.area > 10 else post
        elif kind < 0.8:
            post = box(x, y, x + g.uniform(0.6, 1.5), y + g.uniform(5, 60)) if g.random() < 0.5 else box(x, y, x + g.uniform(5, 40), y + g.uniform(0.6, 1.5))
        else:
            post = mp.rrect(x, y, x + g.uniform(5, 30), y + g.uniform(5, 40), 1)
        post = post & room
        if not post.is_empty and (post := main_piece(post)).geom_type == "Polygon" and post.area > 1:
            bodies.append((post, low, high * g.choice([g.uniform(0.05, 0.3), g.uniform(0.3, 1)])))
            room -= post.buffer(0.3)
    return bodies


def front(g):
    """Bodies of a front: a plate with a window, holes and slots, some with a lip round it."""
    outline = rim_of(g)
    x0, y0, x1, y1 = outline.bounds
    w, h = x1 - x0, y1 - y0
    keep = outline.buffer(-g.uniform(1.5, 6))
    a, b = w * g.uniform(0.3, 0.85), h * g.uniform(0.2, 0.8)
    x, y = g.uniform(x0, x1 - a), g.uniform(y0, y1 - b)
    cut = [mp.rrect(x, y, x + a, y + b, g.uniform(0.4, 6))]
    for _ in range(g.integers(0, 9)):
        x, y, r = *g.uniform((x0, y0), (x1, y1)), g.uniform(0.7, 6)
        cut.append(mp.disk(x, y, r) if g.random() < 0.6 else mp.rrect(x, y, x + g.uniform(1, 18), y + g.uniform(1, 8), 0.8))
    flat = main_piece(outline - (unary_union(cut) & keep))
    thick = g.choice([g.uniform(0.6, 2.5), g.uniform(1.5, 8)])
    bodies = [(flat, 0.0, thick)]
    if g.random() < 0.4:
        lip = (outline - outline.buffer(-g.uniform(0.7, 1.4))) & flat
        bodies += [(q, thick, min(g.uniform(0.5, 5), 12 - thick)) for q in getattr(lip, "geoms", [lip]) if q.area > 1]
    return bodies


def hull_parts(g, number, out):
    """One to three hulls and what a bench usually holds beside them, and in their windows."""
    built = [tray(g) if g.random() < 0.62 else front(g) for _ in range(int(g.integers(1, 4)))]
    kinds = list(NEW) + [k for k in mp.KINDS if k not in ("shell", "panel")]
    drawn, shapes = gathered(g, "hull", built, g.choice(kinds, g.integers(3, 11)))
    made = []
    for i, q in mp.place(g, shapes, (31.5, 31.5, 178.5, 265.5), g.uniform(2, 6)):
        name, hull = f"{shapes[i][0]}{i}", shapes[i][0] == "hull"
        if hull:
            mat = str(g.choice(["white_plastic", "clearcoat_grey", "card", "black_plastic", "aluminium"], p=[0.45, 0.18, 0.12, 0.1, 0.15]))
        else:
            own = mp.KINDS[shapes[i][0]][1] if shapes[i][0] in mp.KINDS and g.random() < 0.7 else MATERIALS
            mat = str(g.choice(own))
        tone = tone_of(g)
        toned = mat in COLOURED and mat != "glass" and g.random() < (0.35 if hull else 0.5)
        for k, (body, z, t) in enumerate(drawn[i]):
            lies = q if k == 0 else laid(body, shapes[i][1], q)
            rec = body_record(name, k, (lies, z, t), mat, int(number * 100 + i))
            if toned:
                coloured(g, rec, [int(v) for v in tone], out / f"face-{number}-{i}-{k}.png", 0.05 if hull else 0.2)
            made.append(rec)
        if shapes[i][0] == "board" and g.random() < 0.8:
            made += mp.chips(g, q, drawn[i][0][2], name)
    return made
