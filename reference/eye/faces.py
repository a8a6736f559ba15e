"""Upper faces of practice parts, circles on them, and print drawn on them: what the round eye learns from (rounds.py)."""
import cv2
import numpy as np
import shapely

CELL_MM = 0.2
RADII = np.arange(0.6, 3.5, 0.2)           # of the circles that edges vote for, mm
FROM_RIM = np.array([0.1, 0.25, 0.4, 0.55, 0.65, 0.72, 0.79, 0.86, 0.93, 1, 1.07, 1.14, 1.21, 1.3, 1.4, 1.55, 1.75, 2])
FROM_FOOT = np.array([0.5, 0.7, 0.85, 1, 1.15, 1.3])
RAYS = 24
ANGLES = np.arange(RAYS) * 2 * np.pi / RAYS
LEAST_CHANGE, WHOLE_VOTE, LEAST_SHARE = 0.05, 0.3, 0.35
LEAST_HEIGHT_MM = 0.4
LEAST_SHOWN_MM = 0.4                       # a hole that shows less paper is neither a hole nor none
FONTS = [cv2.FONT_HERSHEY_SIMPLEX, cv2.FONT_HERSHEY_PLAIN, cv2.FONT_HERSHEY_DUPLEX, cv2.FONT_HERSHEY_COMPLEX,
         cv2.FONT_HERSHEY_TRIPLEX]


class Face:
    """The light of the plane in which a part's upper face lies, in the part's own millimetres."""

    def __init__(self, scene, outline, height):
        x, y, self.above = scene.truth["camera"]["position_mm"]
        self.nadir, self.height = np.array([x, y]), height - 0.87 * min(0.15, 0.2 * height)
        self.outline = outline
        x0, y0, x1, y1 = outline.buffer(1, join_style="mitre").bounds
        nx, ny = int((x1 - x0) / CELL_MM) + 1, int((y1 - y0) / CELL_MM) + 1
        gx, gy = np.meshgrid(x0 + CELL_MM * np.arange(nx), y0 + CELL_MM * np.arange(ny))
        seen = scene.light(scene.cells(np.c_[gx.ravel(), gy.ravel()], self.height))
        self.origin, self.light = np.array([x0, y0]), np.clip(seen, -4, 1).reshape(ny, nx, 3)

    def printed(self, g):
        """The same face with print on it."""
        face = object.__new__(Face)
        face.__dict__ = self.__dict__ | {"light": with_print(self.light, g)}
        return face

    def at(self, points):
        h, w = self.light.shape[:2]
        q = (points - self.origin) / CELL_MM
        x, y = np.clip(q[:, 0], 0, w - 1.001), np.clip(q[:, 1], 0, h - 1.001)
        i, j = x.astype(int), y.astype(int)
        u, v = (x - i)[:, None], (y - j)[:, None]
        f = self.light
        return (f[j, i] * (1 - u) + f[j, i + 1] * u) * (1 - v) + (f[j + 1, i] * (1 - u) + f[j + 1, i + 1] * u) * v

    def shift(self, centres):
        """How far a hole's foot appears moved against its rim, mm."""
        return (self.nadir - centres) * (self.height / self.above)

    def circles(self):
        """Where edges vote for circles: x, y, radius."""
        grey = cv2.GaussianBlur(self.light.mean(2).astype(np.float32), (3, 3), 0)
        h, w = grey.shape
        if min(h, w) < 8:
            return np.zeros((0, 3))
        gy, gx = np.gradient(grey)
        much = np.hypot(gx, gy)
        ys, xs = np.nonzero(much > LEAST_CHANGE)
        vote, way = np.minimum(much[ys, xs], WHOLE_VOTE) / WHOLE_VOTE, np.c_[gx[ys, xs], gy[ys, xs]] / much[ys, xs][:, None]
        shares = np.zeros((len(RADII) + 2, h, w), np.float32)
        for k, r in enumerate(RADII / CELL_MM):
            for side in (r, -r):
                x, y = np.round(xs + side * way[:, 0]).astype(int), np.round(ys + side * way[:, 1]).astype(int)
                ok = (x >= 0) & (y >= 0) & (x < w) & (y < h)
                shares[k + 1] += np.bincount(y[ok] * w + x[ok], vote[ok], h * w).reshape(h, w).astype(np.float32)
            shares[k + 1] = cv2.boxFilter(shares[k + 1], -1, (3, 3), normalize=False) / (2 * np.pi * r)
        most = np.stack([cv2.dilate(s, np.ones((3, 3))) for s in shares])
        most[1:-1] = np.maximum(np.maximum(most[:-2], most[2:]), most[1:-1])
        k, y, x = np.nonzero((shares >= most) & (shares > LEAST_SHARE))
        c = np.c_[self.origin + CELL_MM * np.c_[x, y], RADII[k - 1]]
        outer = shapely.Polygon(self.outline.exterior)
        inside = shapely.contains_xy(outer, c[:, 0], c[:, 1])
        return c[inside & (shapely.distance(shapely.points(c[:, :2]), outer.exterior) > c[:, 2] + 0.1)]

    def turn(self, circles):
        d = self.shift(circles[:, :2])
        return np.arctan2(d[:, 1], d[:, 0])

    def rays(self, circles):
        """What the round eye is given: light along each ray, and of each circle ln radius, shift over radius, ln height."""
        n, d = len(circles), self.shift(circles[:, :2])
        a = self.turn(circles)[:, None] + ANGLES
        way = np.stack([np.cos(a), np.sin(a)], -1)[:, :, None]
        r, smaller = circles[:, 2][:, None, None, None], 1 - self.height / self.above
        rim = circles[:, None, None, :2] + r * FROM_RIM[None, None, :, None] * way
        foot = (circles[:, :2] + d)[:, None, None] + r * smaller * FROM_FOOT[None, None, :, None] * way
        seen = self.at(np.concatenate([rim, foot], 2).reshape(-1, 2)).reshape(n, RAYS, -1)
        about = np.c_[np.log(circles[:, 2]), np.hypot(*d.T) / circles[:, 2], np.full(n, np.log(max(self.height, 0.1)))]
        return seen.astype(np.float16), about.astype(np.float32)


def faces(scene):
    """Each part's face with its round holes: x, y, radius, and whether the hole is one to be told (1) or to be left out (-1)."""
    parts = scene.truth["parts"]
    for part in parts:
        outline = shapely.Polygon(part["outline_mm"], part["holes_mm"]).buffer(0)
        stacked = [p for p in parts if p.get("on") == part["name"]]
        height = max(p.get("z_mm", 0) + p["thickness_mm"] for p in [part, *stacked])
        if part.get("on") or height < LEAST_HEIGHT_MM or outline.geom_type != "Polygon":
            continue
        face, holes = Face(scene, outline, height), []
        for ring in part["holes_mm"]:
            hole = shapely.Polygon(ring)
            radius, centre = np.sqrt(hole.area / np.pi), np.array(hole.centroid.coords[0])
            if hole.length > 1.04 * 2 * np.pi * radius or np.hypot(*(np.array(ring) - centre).T).max() > 1.08 * radius:
                continue
            # Where its rim is: what is stacked may stop short of it.
            about, rim = hole.buffer(0.25 * radius + 0.1).boundary, part["thickness_mm"]
            for p in stacked:
                if about.intersection(shapely.Polygon(p["outline_mm"], p["holes_mm"]).buffer(0)).length > 0.5 * about.length:
                    rim = max(rim, p["z_mm"] + p["thickness_mm"])
            away = np.hypot(*(face.nadir - centre))
            told = 2 * radius - away * rim / (face.above - rim) > LEAST_SHOWN_MM and away * abs(rim - height) / face.above < 0.12
            holes.append((*centre, radius, 1 if told else -1))
        yield face, np.array(holes).reshape(-1, 4)


def truth_of(face, circles, holes):
    """Of each circle: 1 a hole's rim, 0 none, -1 neither; and how far off the rim lies, in radii and in the frame of the shift."""
    is_hole, off = np.zeros(len(circles)), np.zeros((len(circles), 3))
    for x, y, r, told in holes:
        d, wider = np.hypot(circles[:, 0] - x, circles[:, 1] - y), np.abs(circles[:, 2] - r)
        near = (d < 0.5 * r + 0.05) & (wider < 0.35 * r + 0.05)
        c = circles[near]
        is_hole[near], off[near] = told, np.c_[x - c[:, 0], y - c[:, 1], r - c[:, 2]] / c[:, 2:]
        is_hole[(d < 1.2 * r) & ~near & (is_hole == 0)] = -1
    a = face.turn(circles)
    cos, sin = np.cos(a), np.sin(a)
    return is_hole, np.c_[cos * off[:, 0] + sin * off[:, 1], cos * off[:, 1] - sin * off[:, 0], off[:, 2]]


def with_print(light, g):
    """Print, pads, labels and dots on a face; four times finer, then blurred."""
    h, w = light.shape[:2]
    fine = 4
    px = fine / CELL_MM
    for _ in range(g.integers(1, 4)):
        tone = g.uniform(-3, 0.1) + g.normal(0, 0.35, 3) * (g.random() < 0.6)
        mask = [text, words, dots, pads, labels][g.integers(5)](np.zeros((h * fine, w * fine), np.uint8), px, g)
        share = cv2.GaussianBlur(mask.astype(np.float32) / 255, (0, 0), g.uniform(0.3, 1.1) * fine * 0.5)
        share = cv2.resize(share, (w, h), interpolation=cv2.INTER_AREA)[..., None] * g.uniform(0.5, 1)
        drawn = np.exp(tone) * np.exp(0.3 * (light - np.median(light, axis=(0, 1))))
        light = np.log(np.maximum(np.exp(light) * (1 - share) + share * drawn, 1e-2))
    return np.clip(light, -4, 1).astype(np.float32)


def somewhere(mask, g):
    return int(g.uniform(0, mask.shape[1])), int(g.uniform(0, mask.shape[0]))


def turned(mask, g):
    h, w = mask.shape
    angle = g.choice([0, 90, 180, 270]) + g.normal(0, 20) if g.random() < 0.7 else g.uniform(0, 360)
    return cv2.warpAffine(mask, cv2.getRotationMatrix2D((w / 2, h / 2), angle, 1), (w, h))


def text(mask, px, g):
    size, font, (x, y) = g.uniform(0.7, 4) * px, FONTS[g.integers(5)], somewhere(mask, g)
    thick = max(1, int(g.uniform(0.06, 0.22) * size))
    for k in range(g.integers(1, 6)):
        line = "".join(chr(c) for c in g.integers(33, 123, g.integers(3, 25)))
        cv2.putText(mask, line, (x - int(mask.shape[1] * 0.4), y + int(k * 1.6 * size)), font, size / 22, 255, thick, cv2.LINE_AA)
    return turned(mask, g)


def words(mask, px, g):
    """Lines of blocks, as print that is too small to be read."""
    size, (x0, y) = g.uniform(0.4, 2.5) * px, somewhere(mask, g)
    for _ in range(g.integers(1, 6)):
        x = x0 - mask.shape[1] * 0.3
        for _ in range(g.integers(2, 14)):
            long = g.uniform(0.5, 3) * size
            cv2.rectangle(mask, (int(x), int(y)), (int(x + long), int(y + size)), 255, -1)
            x += long + g.uniform(0.3, 0.9) * size
        y += 1.8 * size
    return turned(mask, g)


def dots(mask, px, g):
    for _ in range(g.integers(1, 12)):
        at, r = somewhere(mask, g), int(g.uniform(0.3, 3) * px)
        cv2.circle(mask, at, max(2, r), 255, -1 if g.random() < 0.5 else max(1, int(g.uniform(0.1, 0.5) * r)), cv2.LINE_AA)
    return mask


def pads(mask, px, g):
    (x, y), (a, b), pitch, round_ = somewhere(mask, g), g.uniform(0.3, 2, 2) * px, g.uniform(1.2, 2.5), g.random() < 0.4
    for i in range(g.integers(1, 9)):
        for j in range(g.integers(1, 4)):
            u, v = x + i * a * pitch, y + j * b * pitch
            if round_:
                cv2.ellipse(mask, (int(u), int(v)), (max(1, int(a / 2)), max(1, int(b / 2))), 0, 0, 360, 255, -1)
            else:
                cv2.rectangle(mask, (int(u), int(v)), (int(u + a), int(v + b)), 255, -1)
    return turned(mask, g)


def labels(mask, px, g):
    for _ in range(g.integers(1, 5)):
        x, y = somewhere(mask, g)
        filled = -1 if g.random() < 0.6 else max(1, int(g.uniform(0.1, 0.5) * px))
        cv2.rectangle(mask, (x, y), (int(x + g.uniform(0.5, 12) * px), int(y + g.uniform(0.3, 8) * px)), 255, filled)
    return turned(mask, g)
