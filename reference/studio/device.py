"""The demo's device, an invented field recorder: its frame of reference, the places that parts share, and the Part.

Device frame: mm, seen from the front, origin at the lower-left corner of the whole device, x right, y up; layer 0 is in
front. Every part is drawn once, here, in that frame; where it lies on a sheet is layout.py's affair.
"""
import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon, box
from shapely.ops import unary_union
from textures import Canvas

NAME, MODEL = "Tarnwick", "Dipper 3"
WIDTH, HEIGHT = 64.0, 122.0
SCREWS = [(32.0, 110.0), (8.6, 8.6), (55.4, 8.6)]       # axes of the three case screws
WINDOW = (10.0, 68.5, 54.0, 94.5)                       # display window
PILLS = [(12.5, 57.6), (24.0, 57.6), (35.5, 57.6)]      # keys: back, play, on
RECORD, MARK = (15.2, 44.6), (32.4, 44.6)               # round keys
WHEEL, WHEEL_R = (54.0, 52.0), 11.0
SPEAKER, SPEAKER_R = (32.0, 20.0), 14.0
MICS = [(16.0, 110.0), (48.0, 110.0)]
POSTS = [(7.4, 98.2), (56.6, 98.2), (7.2, 40.8), (57.0, 40.8)]   # main board
STRAP = [(6.6, 70.0), (57.4, 70.0)]                     # cell bracket
CELL = (11.0, 46.5, 53.0, 93.5)
ANTENNA = (38.2, 100.6, 54.2, 116.6)

MOSS, MOSS_IN, SLATE, CREAM, RED = (93, 99, 80), (84, 89, 75), (50, 53, 53), (226, 217, 192), (156, 60, 44)


def disk(x, y, r):
    return Point(x, y).buffer(r, quad_segs=max(6, int(np.ceil(2.3 * np.sqrt(r / 0.004) / 4))))   # chord error < 0.004 mm


def rrect(x0, y0, x1, y1, r):
    r = min(r, 0.499 * (x1 - x0), 0.499 * (y1 - y0))
    return unary_union([disk(x, y, r) for x in (x0 + r, x1 - r) for y in (y0 + r, y1 - r)]).convex_hull


def crect(x, y, w, h, r):
    """A rounded rectangle about its centre."""
    return rrect(x - w / 2, y - h / 2, x + w / 2, y + h / 2, r)


def soften(p, r=0.4):
    """Round the convex and concave corners with radius r."""
    q = 24
    return p.buffer(-r, quad_segs=q).buffer(2 * r, quad_segs=q).buffer(-r, quad_segs=q)


def case():
    """The device's silhouette: a slight taper towards the foot, wide round shoulders."""
    y = np.linspace(0, HEIGHT, 62)
    t = np.clip((64 - y) / 64, 0, 1)
    inset = 1.6 * t * t * (3 - 2 * t)
    p = Polygon([*zip(inset, y), *zip(WIDTH - inset[::-1], y[::-1])])
    q = 64
    head, foot = p.buffer(-15, quad_segs=q).buffer(15, quad_segs=q), p.buffer(-11, quad_segs=q).buffer(11, quad_segs=q)
    return (head & box(-1, 61, 65, 123)) | (foot & box(-1, -1, 65, 61))


CASE = case()


class Part:
    """One part: its outline and walls, what stands on it, and its drawn face."""

    def __init__(self, id, name, kind, outline, edge, layer, rgb, rough=0.5, metal=0.0, *, mass, back, bevel=0.15, hazards=(),
                 stand_in=None, ppm=20):
        self.id, self.name, self.kind, self.layer, self.edge, self.bevel = id, name, kind, layer, edge, bevel
        self.mass, self.back, self.hazards, self.stand_in = mass, back, list(hazards), stand_in
        self.outline = outline.simplify(0.002)
        assert self.outline.geom_type == "Polygon" and self.outline.is_valid, id
        self.side = {"rgb": list(rgb), "rough": rough, "metal": metal}
        self.slabs, self.lathes, self.height = [], [], edge
        self.face = Canvas(self.outline.bounds, rgb, rough, metal, ppm, seed=sum(map(ord, id)))
        self.face.raised(self.outline, edge)

    def slab(self, shape, z, thickness, side=None, bevel=0.06, edge=False, plain=False):
        """A straight-walled body from z upwards; `edge` marks the one that carries the outline to its top."""
        side = {"rgb": list(side), "rough": 0.5, "metal": 0.0} if isinstance(side, tuple) else side or self.side
        for p in getattr(shape, "geoms", [shape]):
            p = p.simplify(0.002)
            ring = lambda r: [[round(x, 4), round(y, 4)] for x, y in r.coords[:-1]]
            self.slabs.append({"outline": ring(p.exterior), "holes": [ring(h) for h in p.interiors], "z": round(z, 4),
                               "thickness": round(thickness, 4), "bevel": bevel, "side": side,
                               **({"edge": True} if edge else {}), **({"plain": True} if plain else {})})
            self.face.raised(p, z + thickness)
        self.height = max(self.height, z + thickness)

    def body(self, bevel=None):
        """The outline itself, extruded to the edge's height."""
        self.slab(self.outline, 0.0, self.edge, bevel=self.bevel if bevel is None else bevel, edge=True)

    def turned(self, x, y, profile, side=None, segments=96):
        side = {"rgb": list(side), "rough": 0.45, "metal": 0.0} if isinstance(side, tuple) else side
        self.lathes.append({"centre": [x, y], "profile": profile, "side": side, "segments": segments})
        self.height = max(self.height, max(z for _, z in profile))
        for (r, z) in sorted(profile, reverse=True):
            if r > 0:
                self.face.raised(Point(x, y).buffer(r), z)

    def overhang(self):
        """The worst (distance to the outline - 0.4 x height above the edge) of what stands on the part, mm.

        A camera 330 mm up sees a point 130 mm from its nadir shifted by 0.4 mm per mm of height, so a detail with a
        positive value can not lean out over the outline in a photo.
        """
        tops = [(Polygon(s["outline"]), s["z"] + s["thickness"]) for s in self.slabs if not s.get("edge")]
        tops += [(Point(q["centre"]).buffer(r), z) for q in self.lathes for r, z in q["profile"] if r > 0]
        return min([q.distance(self.outline.boundary) - 0.4 * (z - self.edge) for q, z in tops if z > self.edge + 1e-6], default=9.9)


def bird(x, y, size):
    """The maker's mark: a dipper on a stone, facing right; `size` is its length in mm."""
    t = np.linspace(0, 2 * np.pi, 60)
    body = Polygon(np.column_stack([0.50 * np.cos(t), 0.30 * np.sin(t)]))
    body = affinity.rotate(body, 22, origin=(0, 0))
    head = Point(0.40, 0.33).buffer(0.19)
    bill = Polygon([(0.53, 0.40), (0.80, 0.33), (0.54, 0.27)])
    tail = Polygon([(-0.36, -0.02), (-0.78, 0.16), (-0.70, -0.02), (-0.36, -0.24)])
    legs = box(-0.02, -0.62, 0.04, -0.25) | box(0.16, -0.62, 0.22, -0.2)
    stone = Polygon([(-0.55, -0.80), (-0.35, -0.62), (0.45, -0.60), (0.68, -0.80)])
    bib = affinity.scale(affinity.rotate(Point(0, 0).buffer(0.17), 0), 0.9, 1.15)
    mark = unary_union([body, head, bill, tail, legs, stone]) - affinity.translate(bib, 0.30, 0.10) - Point(0.45, 0.38).buffer(0.035)
    return affinity.translate(affinity.scale(mark, size / 1.6, size / 1.6, origin=(0, 0)), x, y)
