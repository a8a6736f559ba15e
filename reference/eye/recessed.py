"""Parts with ledges, trays, pits and sunk holes, and parts of bare metal, for practice scenes."""
import numpy as np
from shapely import affinity
from shapely.geometry import box
from shapely.ops import unary_union
import make_parts as mp
from odd_parts import COLOURED, MATERIALS, NEW, coloured, tone_of


def metal_parts(g, number):
    """Parts of every kind and thickness, most of them bare metal."""
    kinds = [*g.choice(["shell", "case", "board", "none"], 2), *g.choice(["bracket", "module", "speaker", "knob", "plate", "frame", "washer", "bar", "grille", "blob"], 9),
             "bracket", "module", *["screw"] * 3, *["bit"] * 2, *["washer"] * 2]
    shapes = []
    for k in kinds:
        if k != "none":
            p, t = (mp.KINDS[k][0] if k in mp.KINDS else NEW[k])(g)
            p = p.simplify(0.002)
            if p.geom_type == "Polygon" and p.area > 1.5:
                shapes.append((k, p, float(min(t, 12))))
    made = []
    for i, q in mp.place(g, shapes, (31.5, 31.5, 178.5, 265.5), g.uniform(2.5, 6)):
        kind, _, t = shapes[i]
        mat = str(g.choice(["shield", "aluminium", "copper"], p=[0.5, 0.25, 0.25]) if g.random() < 0.8 else g.choice(MATERIALS))
        rec = mp.record(f"{kind}{i}", q, t, mat, texture_seed=int(number * 100 + i))
        if g.random() < 0.3:
            rec["bevel"] = float(g.uniform(0.02, 0.4))
        made.append(rec)
    return made


def main_piece(q):
    return max(getattr(q, "geoms", [q]), key=lambda v: v.area)


def opening(g, w, h):
    """A window somewhere in a face of that size, about the face's middle: a rectangle or a disk."""
    a, b = w * g.uniform(0.15, 0.75), h * g.uniform(0.12, 0.7)
    x, y = g.uniform(-0.5, 0.5) * (w - a), g.uniform(-0.5, 0.5) * (h - b)
    if g.random() < 0.25:
        return mp.disk(x, y, min(a, b) / 2)
    return mp.rrect(x - a / 2, y - b / 2, x + a / 2, y + b / 2, g.uniform(0.2, 4))


def stepped(g):
    """The bodies of one part, each an outline with its underside and thickness: a floor, what stands on it, and posts in its wells.
    First the floor, whose outline is the part's."""
    size = g.choice(3, p=[0.4, 0.4, 0.2])
    w, h = ((g.uniform(45, 75), g.uniform(60, 140)), (g.uniform(22, 50), g.uniform(14, 60)), (g.uniform(7, 22), g.uniform(5, 20)))[size]
    outline = mp.rrect(-w / 2, -h / 2, w / 2, h / 2, g.uniform(0.4, 9)) if g.random() < 0.75 else affinity.scale(mp.disk(0, 0, w / 2), 1, h / w)
    for _ in range(g.integers(0, 3)):                  # notches
        x, y = g.uniform(-w / 2, w / 2), g.choice([-h / 2, h / 2])
        outline -= mp.rrect(x - g.uniform(0.8, 6), y - g.uniform(0.5, 5), x + g.uniform(0.8, 6), y + g.uniform(0.5, 5), 0.4)
    outline = main_piece(mp.soften(main_piece(outline), 0.3))
    through, wells = [], []
    for _ in range(g.choice([0, 1, 1, 2])):             # windows, most with a ledge
        window = opening(g, w, h)
        ledge = g.choice([0.0, g.uniform(0.5, 3), g.uniform(2, 9)], p=[0.2, 0.4, 0.4])
        through.append(window)
        wells.append(affinity.translate(window.buffer(ledge), *(g.uniform(-0.7, 0.7, 2) * ledge)) | window)
    for _ in range(g.choice([0, 0, 1, 2])):             # wells without one
        wells.append(opening(g, w, h) if g.random() < 0.5 else affinity.scale(opening(g, w, h), 0.5, 0.3))
    for _ in range(g.integers(0, 9)):                  # holes, sunk holes and pits that look like them
        x, y, r = g.uniform(-w / 2, w / 2), g.uniform(-h / 2, h / 2), g.uniform(0.4, 2.8)
        kind = g.integers(3)
        if kind < 2:
            through.append(mp.disk(x, y, r))
        wells.append(mp.disk(x, y, r if kind == 0 else r + g.uniform(0.3, 2.5)))
    if g.random() < 0.3:                                # rows of slots, blind or open
        x, y, n, pitch, long, wide = g.uniform(-w / 4, w / 4), g.uniform(-h / 4, h / 4), g.integers(3, 9), g.uniform(1.6, 3), g.uniform(1, 10), g.uniform(0.5, 1.1)
        slots = [mp.rrect(x + k * pitch, y, x + k * pitch + wide, y + long, 0.4) for k in range(n)]
        (through if g.random() < 0.5 else wells).extend(slots)
    border = g.uniform(0.7, 4)
    if g.random() < 0.3:                                # a tray: nothing but walls and ribs stands on the floor
        wells.append(outline.buffer(-border))
    keep = outline.buffer(-border)
    through, wells = unary_union(through) & keep, unary_union(wells) & outline.buffer(-min(border, 1.0))
    floor, above = main_piece(outline - through), outline - wells - through
    low = g.choice([g.uniform(0.3, 1.2), g.uniform(0.6, 3), g.uniform(2, 7)])
    high = min(g.choice([g.uniform(0.2, 1.0), g.uniform(0.6, 4), g.uniform(2, 10)]), 12 - low)
    bodies = [(floor, 0.0, low)]
    bodies += [(main_piece(q), low, high) for q in getattr(above, "geoms", [above]) if q.area > 1]
    room = (wells - through).buffer(-0.6)
    for _ in range(g.integers(0, 7)):                  # ribs and posts in the wells
        if room.is_empty:
            break
        x, y = g.uniform(room.bounds[:2], room.bounds[2:])
        post = mp.disk(x, y, g.uniform(0.8, 4)) if g.random() < 0.5 else affinity.rotate(box(x, y, x + g.uniform(0.7, 2), y + g.uniform(2, 30)), g.choice([0, 90]), origin=(x, y))
        post = main_piece(post & room) if not (post & room).is_empty else post & room
        if post.geom_type == "Polygon" and post.area > 1:
            bodies.append((post, low, high * g.uniform(0.3, 1.0)))
    return bodies


def gathered(g, kind, built, plain):
    """Bodies of the parts that were built, all of one kind, and of plain ones of the kinds named, and their outlines as they are to be
    placed; parts that fell into pieces are left out."""
    drawn, shapes = [], []
    for bodies in built:
        if all(q.geom_type == "Polygon" and q.area > 0.5 for q, _, _ in bodies):
            drawn.append(bodies)
            shapes.append((kind, bodies[0][0].simplify(0.002), 0))
    for k in plain:
        p, t = (mp.KINDS[k][0] if k in mp.KINDS else NEW[k])(g)
        if p.geom_type == "Polygon" and p.area > 1.5:
            drawn.append([(p, 0.0, float(min(t, 12)))])
            shapes.append((k, p.simplify(0.002), 0))
    return drawn, shapes


def body_record(name, k, body, mat, texture_seed):
    """The record of a part's body number `k`, laid; all but the first, the part's own, stand on that."""
    lies, z, t = body
    on = {"on": name} if k else {}
    return mp.record(f"{name}_{k}" if k else name, lies, t, mat, z, texture_seed=texture_seed, **on)


def stepped_parts(g, number, out):
    built = [stepped(g) for _ in range(int(g.integers(5, 12)))]
    drawn, shapes = gathered(g, "stepped", built, g.choice(list(NEW) + list(mp.KINDS), 4))
    made = []
    for i, q in mp.place(g, shapes, (31.5, 31.5, 178.5, 265.5), g.uniform(2.5, 6)):
        # How this one was laid, for the bodies above its floor: turned about its box's centre, then shifted.
        name, kind = f"{shapes[i][0]}{i}", g.random()
        mat = str(g.choice(["black_plastic", "white_plastic", "clearcoat_grey", "card"] if kind < 0.75 else MATERIALS))
        tone, dim = tone_of(g), g.uniform(0.25, 1.0)
        for k, (body, z, t) in enumerate(drawn[i]):
            lies = q if k == 0 else laid(body, shapes[i][1], q)
            if k and not g.random() < 0.1:
                own = [int(v) for v in tone]
            else:                                       # floors are often darker than what stands on them
                own = [int(v * dim) for v in tone] if g.random() < 0.6 else [int(v) for v in tone]
            rec = body_record(name, k, (lies, z, t), mat, int(number * 100 + i))
            if mat in COLOURED and mat != "glass" and (kind < 0.6):
                coloured(g, rec, own, out / f"face-{number}-{i}-{k}.png", 0.15)
            made.append(rec)
    return made


def laid(body, base, placed):
    """`body` where `placed` is `base` laid: the turn and shift that carry one ring to the other."""
    a, b = np.array(base.exterior.coords), np.array(placed.exterior.coords)
    a0, b0 = a - a.mean(0), b - b.mean(0)
    turn = np.angle(((b0[:, 0] + 1j * b0[:, 1]) * np.conj(a0[:, 0] + 1j * a0[:, 1])).sum(), deg=True)
    body = affinity.rotate(body, turn, origin=tuple(a.mean(0)))
    return affinity.translate(body, *(b.mean(0) - a.mean(0)))
