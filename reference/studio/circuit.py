"""Drawing circuit boards: packages with pins, passives in rows, traces found by a maze router, pour, vias and legend."""
import heapq
import numpy as np
from shapely.geometry import LineString, Point, box
from shapely.ops import unary_union
import shapely
from device import crect, disk

GOLD, TIN, BLACK, LEAD = (222, 184, 108), (206, 205, 200), (36, 36, 38), (192, 192, 188)
PITCH = 0.5                                             # the router's grid, mm


class Board:
    def __init__(self, part, mask, trace, gap, silk, seed):
        self.part, self.f, self.z = part, part.face, part.edge
        self.mask, self.trace, self.gap, self.silk = mask, trace, gap, silk
        self.g = np.random.default_rng(seed)
        self.pins, self.taken, self.later, self.n = [], [], [], {}
        part.body()

    # ---------------------------------------------------------------- helpers
    def ref(self, letter):
        self.n[letter] = self.n.get(letter, 0) + 1
        return f"{letter}{self.n[letter]}"

    def pad(self, x, y, w, h, metal=TIN, r=0.0):
        self.f.rect(x, y, w, h, metal, r=r, rough=0.36, metal=1.0)

    def solder(self, x, y, w, h):
        """A pad with a soft heap of solder on it."""
        self.f.rect(x, y, w, h, (196, 196, 192), r=min(w, h) * 0.25, rough=0.28, metal=1.0, bump=0.05)

    def take(self, shape, margin=0.35):
        self.taken.append(shape.buffer(margin, quad_segs=3))

    def label(self, x, y, words, size=0.75, turn=0, face="sans"):
        w, h = len(words) * size * 0.82 + 0.3, size + 0.3
        self.take(crect(x, y, *((h, w) if turn else (w, h)), 0.1), 0.0)
        self.later.append(lambda: self.f.text(x, y, words, size, self.silk, face, turn=turn, a=0.92, rough=0.6))

    def frame(self, shape, width=0.14):
        self.later.append(lambda: self.f.line([*shape.exterior.coords], width, self.silk, a=0.9, rough=0.6))

    def box(self, x, y, w, h, t, rgb=BLACK, rough=0.55, metal=0.0, r=0.15, bevel=0.06, z=None):
        s = crect(x, y, w, h, r)
        z = self.z if z is None else z
        self.part.slab(s, z, t, side={"rgb": list(rgb), "rough": rough, "metal": metal}, bevel=bevel)
        def draw():
            self.f.level(s.buffer(0.03))
            self.f.paint(s.buffer(0.03), rgb, rough=rough, metal=metal)
        self.later.append(draw)
        return s

    # ---------------------------------------------------------------- packages
    def quad(self, x, y, w, t, pins, marks, lead=0.9, pitch=None, dot=True):
        """A flat package with leads on four sides."""
        pitch = pitch or (w - 1.4) / max(pins - 1, 1)
        for k in range(pins):
            o = (k - (pins - 1) / 2) * pitch
            for sx, sy in ((1, 0), (-1, 0), (0, 1), (0, -1)):
                px, py = x + sx * (w / 2 + lead / 2) + abs(sy) * o, y + sy * (w / 2 + lead / 2) + abs(sx) * o
                self.solder(px, py, lead + 0.2 if sx else pitch * 0.58, lead + 0.2 if sy else pitch * 0.58)
                self.pins.append((px + sx * 0.5, py + sy * 0.5))
        s = self.box(x, y, w, w, t)
        self.take(crect(x, y, w + 2 * lead, w + 2 * lead, 0.1))
        self.marks(x, y, w, w, marks, dot)
        return s

    def rows(self, x, y, w, h, t, pins, marks, turn=0, lead=0.9):
        """A package with leads along two sides (left and right when turn is 0)."""
        if turn:
            w, h = h, w
        span = w if turn else h
        pitch = (span - 0.8) / max(pins - 1, 1)
        for k in range(pins):
            o = (k - (pins - 1) / 2) * pitch
            for s in (1, -1):
                px, py = (x + o, y + s * (h / 2 + lead / 2)) if turn else (x + s * (w / 2 + lead / 2), y + o)
                self.solder(px, py, *((pitch * 0.5, lead + 0.2) if turn else (lead + 0.2, pitch * 0.5)))
                self.pins.append((px, py + s * 0.5) if turn else (px + s * 0.5, py))
        self.box(x, y, w, h, t)
        self.take(crect(x, y, w + (0 if turn else 2 * lead), h + (2 * lead if turn else 0), 0.1))
        self.marks(x, y, w, h, marks, True, turn=90 if h > w * 1.3 else 0)

    def flat(self, x, y, w, h, t, marks, rgb=BLACK, turn=0):
        """A package on balls: a bare body."""
        self.box(x, y, w, h, t, rgb)
        self.take(crect(x, y, w, h, 0.1), 0.5)
        self.frame(crect(x, y, w + 0.7, h + 0.7, 0.05), 0.12)
        for k in np.arange(-w / 2 + 0.5, w / 2, 1.0):
            self.pins += [(x + k, y + h / 2 + 0.5), (x + k, y - h / 2 - 0.5)]
        for k in np.arange(-h / 2 + 0.5, h / 2, 1.0):
            self.pins += [(x + w / 2 + 0.5, y + k), (x - w / 2 - 0.5, y + k)]
        self.marks(x, y, w, h, marks, True, turn=turn)

    def marks(self, x, y, w, h, words, dot, turn=0, rgb=(176, 176, 168)):
        def draw():
            size = min(1.15, (h if not turn else w) / (len(words) + 1) / 1.5, 1.45 * (w if not turn else h) / max(map(len, words), default=1))
            for k, word in enumerate(words):
                o = ((len(words) - 1) / 2 - k) * size * 1.75
                self.f.text(x + (-o if turn else 0), y + (0 if turn else o), word, size, rgb, "mono", turn=turn, a=0.75, rough=0.7)
            if dot:
                self.f.disk(x - w / 2 + 0.75, y + h / 2 - 0.75 if not turn else y - h / 2 + 0.75, 0.3, (70, 70, 70), bump=-0.05)
        self.later.append(draw)

    def passive(self, x, y, turn, kind, big=False):
        """A two-terminal chip; its name is printed only where asked."""
        l, w, t = (1.7, 0.95, 0.55) if big else (1.15, 0.62, 0.42)
        rgb = {"R": (34, 34, 36), "C": (150, 118, 84), "B": (78, 80, 84), "L": (112, 112, 106)}[kind]
        lw, lh = (l, w) if not turn else (w, l)
        e = l / 2
        for s in (1, -1):
            px, py = (x + s * e, y) if not turn else (x, y + s * e)
            self.solder(px, py, *((0.62 * l / 1.15, w + 0.1) if not turn else (w + 0.1, 0.62 * l / 1.15)))
            self.pins.append((x + s * (e + 0.25), y) if not turn else (x, y + s * (e + 0.25)))
        self.part.slab(crect(x, y, lw, lh, 0.06), self.z, t, side={"rgb": list(rgb), "rough": 0.5, "metal": 0.0}, bevel=0.04)
        def draw():
            self.f.level(crect(x, y, lw + 0.1, lh + 0.1, 0.05))
            self.f.rect(x, y, lw + 0.04, lh + 0.04, (205, 204, 198), rough=0.35, metal=0.8)
            self.f.rect(x, y, *((lw * 0.52, lh + 0.04) if not turn else (lw + 0.04, lh * 0.52)), rgb, rough=0.5, metal=0.0)
            if kind == "R" and big:
                self.f.text(x, y, str(self.g.choice(["103", "472", "221", "000", "105"])), 0.42, (210, 210, 205), "sans", turn=90 if turn else 0, a=0.9)
        self.later.append(draw)
        self.take(crect(x, y, lw + (0.8 if not turn else 0), lh + (0.8 if turn else 0), 0.05), 0.2)

    def passives(self, x, y, n, step, kinds, turn=0, along="x", big=False, names=None):
        """A row of them."""
        for k in range(n):
            o = (k - (n - 1) / 2) * step
            self.passive(x + (o if along == "x" else 0), y + (o if along == "y" else 0), turn, kinds[k % len(kinds)], big)
        if names:
            self.label(*names)

    def coil(self, x, y, w, t, words):
        """A power inductor: grey ferrite with a round winding window."""
        for s in (1, -1):
            self.solder(x + s * w / 2, y, 1.0, w * 0.6)
        self.box(x, y, w, w, t, (72, 72, 74), 0.7, r=0.6, bevel=0.15)
        def draw():
            self.f.disk(x, y, w * 0.40, (52, 52, 54), rough=0.8, bump=-0.05)
            for k in range(5):
                self.f.line([*Point(x, y).buffer(w * (0.36 - 0.05 * k)).exterior.coords], w * 0.03, (150, 96, 62), rough=0.4, metal=0.7)
            self.f.disk(x, y, w * 0.13, (84, 84, 86), rough=0.7)
            self.f.text(x, y, words, w * 0.14, (215, 215, 210), "bold", a=0.9)
        self.later.append(draw)
        self.take(crect(x, y, w + 1.0, w, 0.1), 0.4)
        self.pins += [(x - w / 2 - 0.8, y), (x + w / 2 + 0.8, y)]

    def crystal(self, x, y, w, h, t, words, turn=0):
        for s in (1, -1):
            self.solder(x + (s * w / 2 if not turn else 0), y + (s * h / 2 if turn else 0), 0.9, 0.9)
        self.box(x, y, w, h, t, (196, 194, 186), 0.3, 1.0, r=min(w, h) * 0.45, bevel=0.2)
        def draw():
            s = crect(x, y, w - 0.7, h - 0.7, min(w, h) * 0.4)
            self.f.paint(s, (206, 204, 196), rough=0.26, metal=1.0, soft=0.06, bump=0.09)
            self.f.text(x, y, words, 0.6, (96, 96, 92), "mono", turn=turn, metal=0.0, a=0.85)
        self.later.append(draw)
        self.take(crect(x, y, w + 0.6, h + 0.6, 0.1), 0.4)
        self.pins += [(x - w / 2 - 0.5, y), (x + w / 2 + 0.5, y)] if not turn else [(x, y - h / 2 - 0.5), (x, y + h / 2 + 0.5)]

    def capacitor(self, x, y, r, t, words, turn=0):
        """An aluminium can on a square foot."""
        self.box(x, y, 2 * r + 0.5, 2 * r + 0.5, 0.5, (30, 30, 32), 0.6, r=0.4)
        z = self.z
        self.part.turned(x, y, [[r, z + 0.5], [r, z + t - 0.25], [r - 0.08, z + t - 0.08], [r - 0.25, z + t], [0.0, z + t]])
        def draw():
            a = np.radians(turn)
            self.f.level(disk(x, y, r + 0.02))
            self.f.disk(x, y, r + 0.02, (204, 205, 206), rough=0.34, metal=1.0)
            t_ = np.linspace(-1.05, 1.05, 20) + a
            seg = np.column_stack([x + r * np.cos(t_), y + r * np.sin(t_)])
            self.f.paint(shapely.Polygon(seg), (34, 34, 36), rough=0.5, metal=0.0)
            for b in (a, a + 2.09, a + 4.19):
                self.f.line([(x, y), (x + 0.62 * r * np.cos(b + 1), y + 0.62 * r * np.sin(b + 1))], 0.12, (120, 120, 120), bump=-0.06)
            for k, word in enumerate(words):
                self.f.text(x - 0.34 * r * np.cos(a), y + (0.28 - 0.56 * k) * r - 0.3 * r * np.sin(a), word, r * 0.3, (70, 70, 72), "sans", metal=0.2, a=0.9)
        self.later.append(draw)
        for s in (1, -1):
            self.solder(x + s * (r + 0.7) * np.cos(np.radians(turn)), y + s * (r + 0.7) * np.sin(np.radians(turn)), 0.9, 0.9)
            self.pins.append((x + s * (r + 1.2), y))
        self.take(crect(x, y, 2 * r + 1.5, 2 * r + 1.0, 0.1), 0.3)

    def can(self, x, y, w, h, t, words):
        """A tinned screening can with a dimpled, pierced lid."""
        for k in np.arange(-w / 2 + 1, w / 2 - 0.5, 2.4):
            for s in (1, -1):
                self.solder(x + k, y + s * (h / 2 + 0.15), 1.1, 0.8)
        for k in np.arange(-h / 2 + 1, h / 2 - 0.5, 2.4):
            for s in (1, -1):
                self.solder(x + s * (w / 2 + 0.15), y + k, 0.8, 1.1)
        tin = {"rgb": [196, 195, 188], "rough": 0.3, "metal": 1.0}
        holes = [disk(x + i, y + j, 0.42) for i in np.arange(-w / 2 + 2.6, w / 2 - 2, 2.2) for j in (-h / 2 + 2.0, h / 2 - 2.0)]
        self.part.slab(crect(x, y, w, h, 0.7), self.z, t - 0.3, side=tin, bevel=0.0)
        self.part.slab(crect(x, y, w, h, 0.7) - unary_union(holes), self.z + t - 0.3, 0.3, side=tin, bevel=0.12)
        def draw():
            s = crect(x, y, w, h, 0.7)
            self.f.level(s)
            self.f.paint(s, (202, 200, 192), rough=0.30, metal=1.0)
            self.f.paint(crect(x, y, w - 1.8, h - 1.8, 0.8), None, soft=0.15, bump=0.14)
            self.f.paint(crect(x, y, w - 4.6, h - 6.4, 0.6), None, soft=0.2, bump=-0.12)
            for q in holes:
                self.f.paint(q.buffer(0.05), (18, 18, 18), metal=0.0, rough=0.9)
            self.f.paint(crect(x, y, w - 4.8, h - 6.6, 0.4), (214, 210, 196), metal=0.0, rough=0.75)
            for k, word in enumerate(words):
                self.f.text(x, y + ((len(words) - 1) / 2 - k) * 1.7, word, 0.95, (46, 46, 44), "mono", a=0.9)
        self.later.append(draw)
        self.take(crect(x, y, w + 1.0, h + 1.0, 0.1), 0.3)

    def socket(self, x, y, w, n, turn=0, words="", flip=1):
        """A ribbon's socket: cream body, dark latch, n contacts; turn 90 stands it up."""
        body, latch = (216, 208, 186), (44, 42, 40)
        d = 3.6
        R = (lambda u, v: (x + u, y + flip * v)) if not turn else (lambda u, v: (x + flip * v, y + u))
        S = (lambda a, b: (a, b)) if not turn else (lambda a, b: (b, a))
        for k in range(n):
            o = (k - (n - 1) / 2) * (w - 2.4) / (n - 1)
            self.solder(*R(o, -d / 2 - 0.25), *S(0.32, 0.9))
            self.pins.append(R(o, -d / 2 - 0.8))
        for s in (1, -1):
            self.solder(*R(s * (w / 2 - 0.2), 0.6), *S(0.9, 1.6))
        self.box(*R(0, -0.35), *S(w - 0.4, d - 0.9), 1.1, body, 0.5, r=0.15)
        self.box(*R(0, 1.15), *S(w, 1.1), 0.9, latch, 0.5, r=0.2)
        def draw():
            for k in range(n):
                o = (k - (n - 1) / 2) * (w - 2.4) / (n - 1)
                self.f.rect(*R(o, -0.35), *S(0.26, d - 1.7), (190, 160, 96), rough=0.35, metal=1.0, bump=-0.05)
            if words:
                self.f.text(*R(0, 2.35 if not turn else 2.35), words, 0.8, self.silk, "sans", turn=turn, a=0.92)
        self.later.append(draw)
        self.take(crect(*R(0, 0), *S(w + 0.8, d + 1.6), 0.1), 0.3)

    def plug(self, x, y, n, turn=0, words=""):
        """A white wire-to-board header seen from above."""
        w, h = 1.6 * n + 1.6, 4.2
        S = (lambda a, b: (a, b)) if not turn else (lambda a, b: (b, a))
        shape = crect(x, y, *S(w, h), 0.2)
        well = crect(x, y, *S(w - 1.2, h - 1.4), 0.1)
        white = {"rgb": [222, 216, 200], "rough": 0.45, "metal": 0.0}
        self.part.slab(shape, self.z, 0.7, side=white, bevel=0.0)
        self.part.slab(shape - well, self.z + 0.7, 1.7, side=white, bevel=0.1)
        def draw():
            self.f.level(shape)
            self.f.paint(shape, (222, 216, 200), rough=0.45, metal=0.0)
            self.f.paint(well, (176, 168, 150), rough=0.6)
            for k in range(n):
                o = (k - (n - 1) / 2) * 1.6
                self.f.rect(x + (o if not turn else 0), y + (o if turn else 0), 0.62, 0.62, (214, 190, 130), rough=0.3, metal=1.0)
            if words:
                self.f.text(x + (0 if not turn else -3.0), y + (3.0 if not turn else 0), words, 0.85, self.silk, "sans", turn=turn, a=0.92)
        self.later.append(draw)
        self.take(shape, 0.5)
        self.pins += [(x + (k - (n - 1) / 2) * 1.6, y - h / 2 - 0.6) if not turn else (x - h / 2 - 0.6, y + (k - (n - 1) / 2) * 1.6) for k in range(n)]

    def keypads(self, x, y, shape):
        """Interleaved gold combs that a key's carbon pill bridges."""
        self.take(shape, 0.6)
        inner = shape.buffer(-0.45)
        self.f.paint(shape, self.gap, rough=0.4)
        self.f.paint(shape.boundary.buffer(0.16), GOLD, rough=0.34, metal=1.0)
        x0, y0, x1, y1 = inner.bounds
        for k, u in enumerate(np.arange(x0 + 0.25, x1, 0.78)):
            bar = box(u - 0.2, y0 if k % 2 else y0 - 1, u + 0.2, y1 + 1 if k % 2 else y1 - 0.55)
            if k % 2:
                bar = box(u - 0.2, y0 + 0.55, u + 0.2, y1 + 1)
            self.f.paint(bar & inner, GOLD, rough=0.34, metal=1.0)
        self.pins += [(x0 - 0.9, y), (x1 + 0.9, y)]

    def testpoints(self, spots):
        for k, (x, y) in enumerate(spots):
            self.f.disk(x, y, 0.55, GOLD, rough=0.34, metal=1.0)
            self.take(disk(x, y, 0.55), 0.15)
            self.pins.append((x, y))
            self.label(x, y + 1.0, f"T{k + 1}", 0.55)

    def mount(self, x, y, hole, ring=0.95):
        self.f.disk(x, y, hole + ring, GOLD, rough=0.36, metal=1.0)
        for a in np.radians(np.arange(0, 360, 45)):
            self.f.disk(x + (hole + ring * 0.55) * np.cos(a), y + (hole + ring * 0.55) * np.sin(a), 0.14, (60, 54, 36))
        self.take(disk(x, y, hole + ring), 0.3)

    def fill(self, n, area=None, big=0.2):
        """Short rows of passives in the room that is left, on a grid, as people place them."""
        room = (area or self.part.outline).buffer(-1.9) & self.part.outline.buffer(-1.9)
        taken = unary_union(self.taken)
        made = 0
        for _ in range(4000):
            if made >= n:
                break
            k, turn, along = int(self.g.integers(2, 5)), 90 * int(self.g.integers(2)), self.g.choice(["x", "y"])
            x, y = np.round(self.g.uniform(room.bounds[:2], room.bounds[2:]) * 2) / 2
            is_big = self.g.random() < big
            step = (2.9 if is_big else 2.3) if (along == "x") != bool(turn) else (1.6 if is_big else 1.15)
            span = step * (k - 1) + 2.4
            s = crect(x, y, span if along == "x" else 2.2, 2.2 if along == "x" else span, 0.1)
            if not room.contains(s) or s.intersects(taken):
                continue
            kind = self.g.choice(["RRR", "CCC", "RC", "CRC", "CB"])
            self.passives(x, y, k, step, kind, turn, along, is_big)
            letter = kind[0] if kind[0] != "B" else "L"
            self.label(x, s.bounds[3] + 0.05, f"{self.ref(letter)}", 0.6)
            taken |= s.buffer(0.5)
            made += 1
        return made

    # ---------------------------------------------------------------- traces
    def route(self, nets, reach=26):
        """Route random pairs of pins over the free board and draw pour, traces and vias."""
        out = self.part.outline
        x0, y0, x1, y1 = out.bounds
        nx, ny = int((x1 - x0) / PITCH) + 1, int((y1 - y0) / PITCH) + 1
        gx, gy = np.meshgrid(x0 + np.arange(nx) * PITCH, y0 + np.arange(ny) * PITCH, indexing="ij")
        inside = shapely.contains_xy(out.buffer(-0.8), gx, gy)
        solid = shapely.contains_xy(unary_union([t.buffer(-0.15) for t in self.taken]), gx, gy)
        used = ~inside
        near = lambda p: (int(round((p[0] - x0) / PITCH)), int(round((p[1] - y0) / PITCH)))
        pins = [p for p in self.pins if 0 <= near(p)[0] < nx and 0 <= near(p)[1] < ny and inside[near(p)]]
        order = self.g.permutation(len(pins))
        done, paths, vias = set(), [], []
        steps = [(1, 0), (-1, 0), (0, 1), (0, -1), (1, 1), (1, -1), (-1, 1), (-1, -1)]
        for i in order:
            if len(paths) >= nets:
                break
            if i in done:
                continue
            near_by = [j for j in self.g.permutation(len(pins))[:60] if j not in done and j != i
                       and 4 < np.hypot(pins[i][0] - pins[j][0], pins[i][1] - pins[j][1]) < reach]
            for j in near_by[:3]:
                a, b = near(pins[i]), near(pins[j])
                heap, seen, back = [(0.0, 0.0, a, 8)], {}, {}
                while heap and len(seen) < 3500:
                    _, cost, at, d0 = heapq.heappop(heap)
                    if at in seen:
                        continue
                    seen[at] = cost
                    if at == b:
                        break
                    for d, (dx, dy) in enumerate(steps):
                        n = at[0] + dx, at[1] + dy
                        if not (0 <= n[0] < nx and 0 <= n[1] < ny) or n in seen or (used[n] and n != b):
                            continue
                        if dx and dy and used[at[0] + dx, at[1]] and used[at[0], at[1] + dy]:
                            continue
                        c = cost + (1.414 if dx and dy else 1.0) + (0.7 if d != d0 and d0 != 8 else 0) + (2.5 if solid[n] and n != b else 0)
                        key = back.get(n)
                        if key is None or c < key[1]:
                            back[n] = (at, c)
                            heapq.heappush(heap, (c + max(abs(n[0] - b[0]), abs(n[1] - b[1])), c, n, d))
                if b in seen:
                    path, at = [b], b
                    while at != a:
                        at = back[at][0]
                        path.append(at)
                    for q in path:
                        used[q] = True
                    paths.append(np.array([(x0 + q[0] * PITCH, y0 + q[1] * PITCH) for q in path]))
                    done |= {i, j}
                    break
            else:
                vias.append(pins[i])
                done.add(i)
        pour = self.f.noise("pour", 12)
        thin = [LineString(p).simplify(0.01) for p in paths]
        width = lambda: self.g.choice([0.2, 0.2, 0.24, 0.34])
        rows, cols, m = self.f.mask(out.buffer(-0.6))
        soft = (0.5 + 0.05 * np.clip(pour, -2, 2))[rows, cols] * m
        v = self.f.rgb[rows, cols]
        v += (np.array(self.trace, np.float32) / 255 - v) * (soft * 0.55)[..., None]
        for t in thin:
            self.f.paint(t.buffer(0.36), self.gap, a=0.9, bump=-0.012)
        for t in thin:
            self.f.paint(t.buffer(width() / 2 + 0.02), self.trace, bump=0.02)
        free = ~used & ~solid & inside
        spots = [(gx[k], gy[k]) for k in zip(*np.nonzero(free))]
        stitch = [spots[k] for k in self.g.permutation(len(spots))[: int(out.area / 9)]]
        ends = [tuple(p[0]) for p in paths[::2]] + vias[:80]
        for x, y in stitch + ends:
            self.f.disk(x, y, 0.34, (176, 160, 104), rough=0.4, metal=0.85)
            self.f.disk(x, y, 0.15, (34, 32, 22), metal=0.0, bump=-0.06)
        return len(paths)

    def finish(self):
        for draw in self.later:
            draw()
