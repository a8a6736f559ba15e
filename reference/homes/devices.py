#!/usr/bin/env python3
"""Invent opened devices, for measuring `homes`: scenes for the photo studio, and the truth of every home.

    python devices.py -o BUILD [--only NAME,NAME]

Each device is a hull (a shell with floor and walls), what lies in it by height, and a lid; all sizes, shapes, materials and
places come from its seed. It is photographed at several stages of its teardown, lying anyhow on a capture sheet, and its
parts are photographed one beside the other from the front and, where it is opened from the back, from behind too.

Device frame: mm, seen from the front, origin at the lower-left corner of the closed device, x right, y up. `z` counts from the
rear, mm. Scenes are read by studio/simulate.py; every part keeps the device's coordinates as its own, and a `pose` lays it
down, so that its texture rides with it.
"""
import argparse, json, shutil, zlib
from pathlib import Path
import numpy as np
from PIL import Image, ImageDraw
from shapely import affinity
from shapely.geometry import LineString, Point, Polygon, box
from shapely.ops import unary_union

HERE = Path(__file__).resolve().parent
SHEET_PNG = HERE.parent.parent / "tests/data/capture/sheet-a4.png"
FIELD = (32, 32, 178, 265)                              # of the A4 sheet, a little inside its blank field, mm
FLOOR, WALL = 1.2, 1.6                                  # of a hull, mm
LIGHTS = ("window", "two_lamps", "ceiling", "harsh")

# name, seed, opened from, the two lights of its photos
DEVICES = [("arrel", 11, "front", (0, 1)), ("bosko", 12, "front", (1, 2)), ("cimbel", 13, "back", (0, 2)),
           ("dovrin", 14, "front", (2, 1)), ("eskat", 15, "back", (1, 0)), ("fenlo", 16, "front", (0, 3)),
           ("gorrim", 17, "front", (1, 0)), ("hexel", 18, "back", (2, 0))]


def disk(x, y, r):
    return Point(x, y).buffer(r, quad_segs=max(8, int(np.ceil(0.6 * np.sqrt(r / 0.004)))))


def rrect(x0, y0, x1, y1, r):
    r = min(r, 0.49 * (x1 - x0), 0.49 * (y1 - y0))
    return unary_union([disk(x, y, r) for x in (x0 + r, x1 - r) for y in (y0 + r, y1 - r)]).convex_hull


def soften(p, r=0.4):
    return p.buffer(-r, quad_segs=8).buffer(2 * r, quad_segs=8).buffer(-r, quad_segs=8)


def board(g, w, h):
    p = rrect(0, 0, w, h, 1.0)
    for _ in range(int(g.integers(1, 4))):
        y, d, s = g.uniform(4, h - 12), g.uniform(1.5, 5), g.uniform(3, 9)
        p -= box(-1, y, d, y + s) if g.random() < 0.5 else box(w - d, y, w + 1, y + s)
    if g.random() < 0.7:
        p -= box(w * g.uniform(0.55, 0.75), h * g.uniform(0.7, 0.85), w + 1, h + 1)
    p = soften(p, 0.6)
    for x, y in ((3, 3), (w - 3, 3), (3, h - 3)):
        p -= disk(x, y, g.uniform(0.8, 1.2))
    return p


def ribbon(g, length):
    s, w = g.uniform(6, 14) * g.choice([-1, 1]), g.uniform(4, 7)
    t = np.linspace(0, 1, 60)
    neck = LineString(np.column_stack([t * length, s * (3 * t**2 - 2 * t**3)])).buffer(w / 2, cap_style=2)
    ends = rrect(-5, -4.5, 4, 4.5, 0.8) | rrect(length - 4, s - w, length + 6, s + w * 0.8, 1.2)
    return soften(neck | ends, 0.5) - disk(-3, 0, 0.75)


def module(g):
    r = g.uniform(4.5, 8)
    p = disk(0, 0, r)
    for a in np.sort(g.uniform(0, 360, int(g.integers(2, 4)))):
        p |= affinity.rotate(rrect(r - 1.5, -2, r + 3.5, 2, 1.9) - disk(r + 1.6, 0, 0.8), a, origin=(0, 0))
    return soften(p, 0.25) - disk(0, 0, g.uniform(1.4, 0.4 * r))


def bracket(g):
    L, w = g.uniform(20, 34), g.uniform(5, 8)
    p = rrect(0, 0, L, w, 1.2) | rrect(L - w, 0, L, g.uniform(10, 16), 1.2)
    p -= rrect(3, w / 2 - 0.9, L * 0.45, w / 2 + 0.9, 0.9)
    return soften(p, 0.4) - disk(L - w / 2, w / 2 + 1, 1.1)


def speaker(g):
    w, h = g.uniform(15, 22), g.uniform(9, 13)
    p = rrect(0, 0, w, h, 1.5) | rrect(-3, h / 2 - 2.5, 2, h / 2 + 2.5, 2) | rrect(w - 3, h - 4, w + 3.5, h, 1)
    return soften(p - disk(w, 0, 2.6), 0.4) - disk(-1, h / 2, 0.8)


def label(path, w, h, rgb, seed):
    """A printed face: a coloured ground, bars, blocks of short strokes, a frame."""
    g = np.random.default_rng(seed)
    k = 16
    img = Image.new("RGB", (int(w * k), int(h * k)), tuple(int(v) for v in rgb))
    d = ImageDraw.Draw(img)
    ink = tuple(int(v) for v in (g.uniform(0, 70, 3) if np.mean(rgb) > 100 else g.uniform(170, 250, 3)))
    for _ in range(int(g.integers(4, 8))):
        x, y = g.uniform(1, max(1.5, w - 8)), g.uniform(1, max(1.5, h - 4))
        bw, lines = g.uniform(4, min(18, w - 1)), int(g.integers(1, 5))
        for j in range(lines):
            xx = x
            while xx < min(x + bw, w - 1):
                s = g.uniform(0.4, 2.4)
                d.rectangle([xx * k, (y + 1.4 * j) * k, (xx + s) * k, (y + 1.4 * j + g.uniform(0.5, 0.9)) * k], fill=ink)
                xx += s + g.uniform(0.3, 0.7)
    for _ in range(2):
        x, y, s = g.uniform(1, w - 4), g.uniform(1, h - 4), g.uniform(2, 7)
        d.rectangle([x * k, y * k, (x + s) * k, (y + 0.6 * s) * k], fill=tuple(int(v) for v in g.uniform(20, 235, 3)))
    path.parent.mkdir(parents=True, exist_ok=True)
    img.save(path)
    return path.name


class Made:
    """One part: outline in the device's frame, underside z from the rear, thickness, looks of both faces."""

    def __init__(self, name, shape, z, thickness, material, seed, *, rgb=None, front=None, back=None, kind="other"):
        shape = shape.simplify(0.003)
        assert shape.geom_type == "Polygon" and shape.is_valid, name
        self.name, self.shape, self.z, self.thickness, self.kind = name, shape, float(z), float(thickness), kind
        self.material, self.seed, self.rgb, self.front, self.back = material, int(seed), rgb, front, back
        self.more_front, self.more_back = [], []        # (shape, height over the face's plane, thickness, material)
        self.hull = None                                # (inner shape, depth, opens to the front)

    @property
    def top(self):
        return self.z + self.thickness


def ring(r):
    return [[round(x, 4), round(y, 4)] for x, y in list(r.coords)[:-1]]


def slab(name, shape, z, thickness, material, pose, **more):
    return [{"name": name, "outline": ring(p.exterior), "holes": [ring(h) for h in p.interiors], "z": round(z, 3),
             "thickness": round(thickness, 3), "bevel": round(min(0.2, 0.2 * thickness), 3), "material": material, "pose": pose,
             **{k: v for k, v in more.items() if v is not None}}
            for p in (q.simplify(0.003) for q in getattr(shape, "geoms", [shape])) if p.area > 0.3]


def laid(part, pose, z, facing, mirror):
    """Scene parts of one part lying with `facing` up at height z; `mirror` turns shapes of the front view over."""
    flip = (lambda s: affinity.scale(s, -1, 1, origin=(0, 0))) if mirror else (lambda s: s)
    look = dict(rgb=part.rgb, texture_seed=part.seed + (500 if facing == "back" else 0),
                top_texture=part.front if facing == "front" else part.back)
    out = []
    if part.hull:
        inner, depth, opens = part.hull
        if opens == facing:                             # floor below, walls up
            out += slab(part.name, flip(part.shape), z, part.thickness - depth, part.material, pose, **look)
            out += slab(part.name + "+wall", flip(part.shape - inner), z + part.thickness - depth, depth, part.material, pose, rgb=part.rgb,
                        texture_seed=part.seed + 7)
        else:
            out += slab(part.name, flip(part.shape), z, part.thickness, part.material, pose, **look)
    else:
        out += slab(part.name, flip(part.shape), z, part.thickness, part.material, pose, **look)
    base = z + part.thickness
    for k, (s, t, m) in enumerate(part.more_front if facing == "front" else part.more_back):
        at = base - (part.hull[1] if part.hull and part.hull[2] == facing else 0)
        out += slab(f"{part.name}+{k}", flip(s), at, t, m, pose, texture_seed=part.seed + 20 + k)
    return out


def chips(g, p, most=7):
    room, out = p.buffer(-1.5), []
    for _ in range(60):
        c = affinity.translate(rrect(0, 0, g.uniform(3, 11), g.uniform(3, 9), 0.4), *g.uniform(p.bounds[:2], p.bounds[2:]))
        if len(out) < most and room.contains(c):
            room -= c.buffer(1.0)
            out.append((c, g.uniform(0.5, 1.2), str(g.choice(["black_plastic", "shield"]))))
    return out


def invent(name, seed, folder):
    """The parts of one device, from the rear to the front, each with the stage at which it is taken out (front opened)."""
    g = np.random.default_rng(seed)
    W, H = g.uniform(52, 68), g.uniform(88, 126)
    P = rrect(0, 0, W, H, g.uniform(5, 11))
    if g.random() < 0.6:                                # a step in the outline, so that it has one way up
        P = soften(P - box(W - g.uniform(5, 10), H - g.uniform(9, 20), W + 1, H + 1), 0.8)
    P -= rrect(W / 2 - 5, -1, W / 2 + 5, g.uniform(0.8, 1.4), 0.6) if g.random() < 0.5 else disk(-1, H * 0.3, 3)
    inner = soften(P.buffer(-WALL), 0.5)
    for s in g.uniform(0, 1, 3):                        # screw bosses on the wall
        q = inner.exterior.interpolate(s, normalized=True)
        inner -= disk(q.x, q.y, 3.0)
    inner = soften(inner, 0.3)
    inner = max(getattr(inner, "geoms", [inner]), key=lambda q: q.area)
    shells = [("black_plastic", None), ("clearcoat_grey", None), ("aluminium", None), ("card", [int(v) for v in g.uniform(60, 200, 3)]),
              ("white_plastic", None)]
    parts, tag = [], lambda *w: zlib.crc32("/".join(map(str, (seed,) + w)).encode()) % 10**6
    rear_look, lid_look = (shells[i] for i in g.permutation(len(shells))[:2])
    depth = 6.5

    # ---- what lies on the floor
    room = inner.buffer(-0.6)
    floor_parts = []

    def put(shape, tries=500, turns=(0, 90, 180, 270), jitter=0.0, keep=1.2):
        nonlocal room
        for _ in range(tries):
            q = affinity.rotate(shape, g.choice(turns) + g.normal(0, jitter), origin=(0, 0))
            x0, y0, x1, y1 = room.bounds
            a, b, c, d = q.bounds
            if x1 - x0 < c - a or y1 - y0 < d - b:
                continue
            q = affinity.translate(q, g.uniform(x0 - a, x1 - c), g.uniform(y0 - b, y1 - d))
            if room.contains(q):
                room = room - q.buffer(keep)
                return q
        return None

    def add(name, shape, z, thickness, material, stage, kind="other", **looks):
        if shape is None:
            return None
        part = Made(name, shape, z, thickness, material, tag(name), kind=kind, **looks)
        part.stage = stage
        parts.append(part)
        return part

    rear = Made("rear-shell", P, 0.0, FLOOR + depth, rear_look[0], tag("rear"), rgb=rear_look[1], kind="shell")
    rear.hull, rear.stage = (inner, depth, "front"), 9
    ribs = [box(*(lambda x, y: (x, y, x + g.uniform(6, 20), y + 1.0))(*g.uniform((6, 8), (W - 26, H - 12)))) for _ in range(4)]
    rear.more_front = [(r & inner.buffer(-1), 0.6, rear_look[0] if rear_look[0] != "card" else "black_plastic") for r in ribs if inner.buffer(-1).contains(r)]
    rear.back = label(folder / f"{name}-rear.png", W, H, rear_look[1] or (40, 40, 42), tag("rearlabel")) if rear_look[0] == "card" else None
    parts.append(rear)
    cw, ch = W * g.uniform(0.42, 0.55), H * g.uniform(0.3, 0.42)
    cell_rgb = [int(v) for v in g.uniform(40, 230, 3)]
    cell_shape = rrect(0, 0, cw, ch, 1.5)
    cell = add("cell", put(cell_shape, turns=(0,)), FLOOR, g.uniform(3, 4.5), "card", 4, "cell", rgb=cell_rgb)
    if cell:
        x0, y0, x1, y1 = cell.shape.bounds
        cell.front = label(folder / f"{name}-cell.png", x1 - x0, y1 - y0, cell_rgb, tag("celllabel"))
        cell.back = label(folder / f"{name}-cell-back.png", x1 - x0, y1 - y0, cell_rgb, tag("cellback"))
    bw, bh = W * g.uniform(0.5, 0.62), H * g.uniform(0.28, 0.36)
    small = add("lower-board", put(board(g, bw, bh)), FLOOR + 0.6, 1.0, "pcb", 3, "board")
    if small:
        small.more_front = chips(g, small.shape, 5)
    add("speaker", put(speaker(g)), FLOOR, g.uniform(2.5, 4), str(g.choice(["black_plastic", "clearcoat_grey"])), 4, "speaker")
    for k in range(2):
        add(f"module-{k + 1}", put(module(g), turns=range(0, 360, 15)), FLOOR, g.uniform(2.5, 4.2), str(g.choice(["black_plastic", "shield", "copper"])),
            4 if k else 3, "other")
    twin = speaker(g) if g.random() < 0.3 else rrect(0, 0, g.uniform(6.5, 8), g.uniform(8.5, 11), 1)
    for k in range(2 if g.random() < 0.6 else 1):       # two alike, more often than not
        add(f"can-{k + 1}", put(twin), FLOOR, 2.2, "shield", 4, "other")
    # ---- above them: a plate or the main board, on posts
    z1 = FLOOR + 4.6
    x0, y0, x1, y1 = inner.bounds
    up = inner.buffer(-1.2) & box(x0, y0 + (y1 - y0) * g.uniform(0.38, 0.5), x1, y1)
    up = max(getattr(up, "geoms", [up]), key=lambda q: q.area)
    notch = box(*(lambda x, y: (x, y, x + g.uniform(8, 16), y + g.uniform(8, 14)))(*g.uniform((x0 + 6, up.bounds[1] + 8), (x1 - 24, y1 - 24))))
    up = soften(up - notch, 0.6) - disk(x0 + 6, up.bounds[1] + 5, 1.1) - disk(x1 - 7, up.bounds[1] + 4, 1.1)
    up = max(getattr(up, "geoms", [up]), key=lambda q: q.area)
    main = add("main-board", up, z1, 1.0, "pcb", 2, "board")
    main.more_front, main.more_back = chips(g, up), chips(g, up, 3)
    low = inner.buffer(-1.5) & box(x0, y0, x1, up.bounds[1] - 1.5)
    low = max(getattr(low, "geoms", [low]), key=lambda q: q.area)
    if g.random() < 0.6:
        plate = soften(low - rrect(x0 + 8, y0 + 8, x0 + 8 + g.uniform(10, 22), y0 + 8 + g.uniform(8, 16), 2) - disk(x1 - 8, y0 + 9, 2.2), 0.6)
        plate = max(getattr(plate, "geoms", [plate]), key=lambda q: q.area)
        add("plate", plate, z1, 0.5, str(g.choice(["aluminium", "copper"])), 2, "bracket")
    # ---- over the board: bracket, ribbon
    zt = z1 + 1.0 + 1.25
    room = up.buffer(-1)
    for c, t, m in main.more_front:
        room = room - c.buffer(0.8)
    b = put(bracket(g), turns=range(0, 360, 90))
    add("bracket", b, z1 + 1.0, 0.5, "shield", 2, "bracket")
    r = affinity.rotate(ribbon(g, H * g.uniform(0.3, 0.42)), 90 + g.normal(0, 8), origin=(0, 0))
    a, bb, c, d = r.bounds
    r = affinity.translate(r, W * g.uniform(0.35, 0.65) - (a + c) / 2, up.bounds[1] - (bb + d) / 2 + g.uniform(-4, 4))
    if inner.buffer(-0.8).contains(r):
        add("ribbon", r, zt, 0.2, "flex", 1, "ribbon")
    # ---- the lid: a display under a window, and the front shell
    zl = FLOOR + depth + 0.6
    win = rrect(W * 0.14, H * g.uniform(0.36, 0.46), W * 0.86, H * 0.88, 2)
    screen = rrect(win.bounds[0] - 2, win.bounds[1] - 3, win.bounds[2] + 2, win.bounds[3] + 2, 1.2)
    show = label(folder / f"{name}-screen.png", screen.bounds[2] - screen.bounds[0], screen.bounds[3] - screen.bounds[1], (14, 15, 18), tag("screen"))
    disp = add("display", screen, zl, 1.4, "glass", 0, "display", front=show if g.random() < 0.6 else None)
    disp.back = label(folder / f"{name}-display-back.png", screen.bounds[2] - screen.bounds[0], screen.bounds[3] - screen.bounds[1], (150, 152, 150), tag("dback"))
    lid = P - win
    keys = [(W * f, H * 0.2) for f in (0.25, 0.5, 0.75)]
    for x, y in keys[:int(g.integers(1, 4))]:
        lid -= disk(x, y, g.uniform(2.5, 4.5))
    front = add("front-shell", lid, zl + 1.4, 2.0, lid_look[0], 0, "shell", rgb=lid_look[1])
    for k, s in enumerate(g.uniform(0.05, 0.95, 2)):    # screws on the lid, too small to count
        q = P.buffer(-4).exterior.interpolate(s, normalized=True)
        if front.shape.buffer(-0.5).contains(disk(q.x, q.y, 1.9)):
            add(f"screw-{k + 1}", disk(q.x, q.y, 1.9), front.top, 0.9, "shield", 0, "screw")
    return dict(name=name, W=W, H=H, P=P, parts=parts, top=max(p.top for p in parts))


def camera(g, look_at, most_tilt=15.0):
    return dict(focal_35mm=28, height_mm=round(g.uniform(322, 372), 1), tilt_deg=round(g.uniform(1, most_tilt), 2),
                tilt_dir_deg=round(g.uniform(-180, 180), 1), roll_deg=round(90 + g.normal(0, 1.5), 2),
                look_at_mm=[round(float(v), 1) for v in look_at], k1=0.032, k2=-0.018)


def scene(parts, cam, light, seed, g):
    return {"sheet": {"png": "sheet-a4.png", "size_mm": [210, 297]}, "table": {"rgb": [int(v) for v in g.uniform(70, 150, 3)], "grain": 0.25},
            "parts": parts, "camera": cam, "lights": {"preset": LIGHTS[light], "azimuth_deg": round(g.uniform(-25, 25), 1)},
            "seed": seed, "spp": 8, "limit_kb": 3000}


def spread(g, parts, mirror):
    """Sheets on which parts lie beside each other: [[(part, pose)]], largest first."""
    sheets = []
    for part in sorted(parts, key=lambda p: -p.shape.area):
        shape = affinity.scale(part.shape, -1, 1, origin=(0, 0)) if mirror else part.shape
        for k in range(9):
            if k == len(sheets):
                sheets.append((box(*FIELD), []))
            free, on = sheets[k]
            for _ in range(300):
                turn = float(round(g.normal(0, 3) if shape.area > 2500 else g.uniform(0, 360), 2))
                q = affinity.rotate(shape, turn, origin=(0, 0))
                a, b, c, d = q.bounds
                if c - a > FIELD[2] - FIELD[0] or d - b > FIELD[3] - FIELD[1]:
                    continue
                x, y = g.uniform(FIELD[0] - a, FIELD[2] - c), g.uniform(FIELD[1] - b, FIELD[3] - d)
                if shape.area > 2500 and g.random() < 0.8:
                    x = FIELD[0] - a if g.random() < 0.5 else FIELD[2] - c
                    y = FIELD[1] - b if g.random() < 0.5 else FIELD[3] - d
                x, y = round(float(x), 3), round(float(y), 3)
                q = affinity.translate(q, x, y)
                if free.contains(q):
                    sheets[k] = (free - q.buffer(6), on + [(part, {"x": x, "y": y, "turn_deg": turn})])
                    break
            else:
                continue
            break
        else:
            raise SystemExit(f"no room for {part.name}")
    return [on for _, on in sheets]


def symmetry(part):
    """How many turns leave the outline as it is: 0 for a disc."""
    c = part.shape.centroid
    same = lambda a: part.shape.symmetric_difference(affinity.rotate(part.shape, a, origin=c)).area < 0.03 * part.shape.area
    return 0 if same(37) and same(11) else next((n for n in (4, 3, 2) if same(360 / n)), 1)


def write(device, opened, lights, seed, out):
    g = np.random.default_rng(seed + 7000)
    name, parts, W, H, top = (device[k] for k in ("name", "parts", "W", "H", "top"))
    from_back = opened == "back"
    truth = {"name": name, "opened_from": opened, "size_mm": [round(W, 4), round(H, 4)], "parts": [], "inside": [], "sheets": []}
    at = {}
    for facing in (["front", "back"] if from_back else ["front"]):
        for k, on in enumerate(spread(g, parts, facing == "back")):
            stem = f"{name}-{facing}-{k + 1}"
            laid_parts, rows = [], []
            for part, pose in on:
                laid_parts += laid(part, pose, 0.0, facing, facing == "back")
                s = affinity.scale(part.shape, -1, 1, origin=(0, 0)) if facing == "back" else part.shape
                spot = max((Point(x, y) for x in np.linspace(*s.bounds[::2], 40) for y in np.linspace(*s.bounds[1::2], 40) if s.contains(Point(x, y))),
                           key=s.boundary.distance, default=s.representative_point())
                spot = affinity.translate(affinity.rotate(spot, pose["turn_deg"], origin=(0, 0)), pose["x"], pose["y"])
                rows.append({"part": part.name, "at_mm": [round(spot.x, 2), round(spot.y, 2)], "thickness_mm": round(part.thickness, 3), "pose": pose})
                at[part.name, facing] = pose
            cam = camera(g, (105 + g.normal(0, 5), 148 + g.normal(0, 8)), 6.0)
            (out / f"{stem}.json").write_text(json.dumps(scene(laid_parts, cam, lights[0], seed * 100 + k, g)))
            truth["sheets"].append({"image": f"{stem}.jpg", "facing": facing, "parts": rows})
    stages = [0, 1, 2, 3]
    for k in stages:
        there = [p for p in parts if (p.stage >= k if not from_back else True)]
        if from_back:                                   # the rear shell off first, the lid stays below
            gone = {0: [], 1: ["rear-shell"], 2: ["rear-shell", "cell", "speaker", "module-2", "can-1", "can-2"],
                    3: ["rear-shell", "cell", "speaker", "module-1", "module-2", "can-1", "can-2", "lower-board", "plate", "main-board"]}[k]
            there = [p for p in parts if p.name not in gone]
        turn = round(float(g.normal(0, 9)), 2)
        mid = affinity.rotate(Point((-W if from_back else W) / 2, H / 2), turn, origin=(0, 0))
        where = (105 + g.uniform(-18, 18), 148 + g.uniform(-35, 35))
        pose = {"x": round(where[0] - mid.x, 3), "y": round(where[1] - mid.y, 3), "turn_deg": turn}
        face = "back" if from_back else "front"
        laid_parts = []
        for p in there:
            z = top - p.top if from_back else p.z
            laid_parts += laid(p, pose, z, face, from_back)
        cam = camera(g, (105 + g.normal(0, 6), 148 + g.normal(0, 10)))
        stem = f"{name}-stage-{k}"
        (out / f"{stem}.json").write_text(json.dumps(scene(laid_parts, cam, lights[k % 2], seed * 100 + 50 + k, g)))
        truth["inside"].append({"image": f"{stem}.jpg", "stage": k, "pose": pose, "there": [p.name for p in there]})
    for p in parts:
        turns = symmetry(p)
        blank = not (p.front or p.back or p.material in ("pcb", "flex") or p.more_front or p.more_back)
        truth["parts"].append({"id": p.name, "kind": p.kind, "material": p.material, "thickness_mm": round(p.thickness, 3), "z_mm": round(p.z, 3),
                               "outline": ring(p.shape.exterior), "holes": [ring(h) for h in p.shape.interiors],
                               "centroid": [round(p.shape.centroid.x, 4), round(p.shape.centroid.y, 4)],
                               "home_turn_deg": round(-at[p.name, "front"]["turn_deg"], 3), "symmetry": turns, "blank": blank})
    (out / f"{name}.truth.json").write_text(json.dumps(truth) + "\n")
    print(f"{name}: {W:.0f} x {H:.0f} mm, opened from the {opened}, {len(parts)} parts, {len(truth['sheets'])} sheets, {len(stages)} stages", flush=True)


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("-o", "--out", type=Path, required=True)
    ap.add_argument("--only", help="these devices only, by name (comma list)")
    a = ap.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    shutil.copy(SHEET_PNG, a.out / "sheet-a4.png")
    for name, seed, opened, lights in DEVICES:
        if a.only and name not in a.only.split(","):
            continue
        write(invent(name, seed, a.out), opened, lights, seed, a.out)


if __name__ == "__main__":
    main()
