"""Odd parts for practice scenes: shapes of no device, in every surface, with faces drawn on them."""
import numpy as np
from shapely import affinity
from shapely.geometry import Polygon, box
import cv2
from PIL import Image
import make_parts as mp

COLOURED = ("card", "black_plastic", "white_plastic", "clearcoat_grey", "glass")
MATERIALS = ["black_plastic", "white_plastic", "aluminium", "glass", "pcb", "copper", "shield", "flex", "clearcoat_grey", "card"]


def blob(g):
    n, r = g.integers(5, 11), g.uniform(4, 22)
    a = np.sort(g.uniform(0, 2 * np.pi, n)) 
    p = Polygon(np.column_stack([np.cos(a), np.sin(a)]) * (r * g.uniform(0.35, 1.0, n))[:, None]).buffer(0)
    p = mp.soften(p.buffer(g.uniform(0.5, 3)), g.uniform(0.2, 1.0))
    for _ in range(g.integers(0, 4)):
        x, y = g.uniform(p.bounds[:2], p.bounds[2:])
        p -= mp.disk(x, y, g.uniform(0.5, 3))
    p = max(getattr(p, "geoms", [p]), key=lambda q: q.area)
    return p, g.uniform(0.2, 12) if r > 6 else g.uniform(0.2, 5)


def plate(g):
    w, h = g.uniform(12, 60), g.uniform(8, 40)
    p = mp.rrect(0, 0, w, h, g.uniform(0.3, 4))
    for _ in range(g.integers(2, 14)):
        x, y = g.uniform(0, w), g.uniform(0, h)
        kind = g.integers(4)
        if kind == 0:
            p -= mp.disk(x, y, g.uniform(0.4, 2.5))
        elif kind == 1:
            p -= affinity.rotate(mp.rrect(x, y, x + g.uniform(1, 14), y + g.uniform(0.8, 3), 0.9), g.choice([0, 90, g.uniform(0, 180)]))
        elif kind == 2:
            p -= mp.rrect(x - 3, y - 2, x + g.uniform(0, 8), y + g.uniform(0, 8), 0.5)
        else:
            p -= box(x - 1, -1, x + g.uniform(0, 5), g.uniform(0.6, 4)) if g.random() < 0.5 else box(-1, y, g.uniform(0.6, 4), y + g.uniform(1, 5))
    p = max(getattr(p, "geoms", [p]), key=lambda q: q.area)
    p = mp.soften(p, 0.25)
    p = max(getattr(p, "geoms", [p]), key=lambda q: q.area)
    return p, g.choice([g.uniform(0.15, 1.5), g.uniform(1, 8)])


def grille(g):
    n, m, d = g.integers(3, 7), g.integers(2, 6), g.uniform(1.0, 3.0)
    pitch = d + g.uniform(0.8, 2.5)
    p = mp.rrect(-2, -2, (n - 1) * pitch + d + 2, (m - 1) * pitch + d + 2, 1)
    square = g.random() < 0.5
    for i in range(n):
        for j in range(m):
            x, y = i * pitch, j * pitch
            p -= mp.rrect(x, y, x + d, y + d, 0.3) if square else mp.disk(x + d / 2, y + d / 2, d / 2)
    return p, g.uniform(0.3, 4)


def frame_part(g):
    w, h, b = g.uniform(20, 70), g.uniform(15, 50), g.uniform(1.2, 5)
    r = g.uniform(1, 6)
    p = mp.rrect(0, 0, w, h, r) - mp.rrect(b, b, w - b, h - b, max(r - b, 0.4))
    if g.random() < 0.5:
        x = g.uniform(b, w - b)
        p = mp.soften(p | box(x, 0, x + g.uniform(1, 4), h), 0.3)
    return p, g.uniform(0.4, 11)


def washer(g):
    r = g.uniform(1.5, 12)
    return mp.disk(0, 0, r) - mp.disk(0, 0, r * g.uniform(0.25, 0.75)), g.uniform(0.2, min(8, r))


def bit(g):
    r = g.uniform(0.75, 3)
    p = mp.disk(0, 0, r) if g.random() < 0.6 else mp.rrect(0, 0, 2 * r, r * g.uniform(1.5, 5), 0.3)
    return p, g.uniform(0.3, 2 * r)


def bar(g):
    return mp.rrect(0, 0, g.uniform(15, 90), g.uniform(1.5, 7), g.uniform(0.2, 3)), g.uniform(0.3, 9)


def shell_thick(g):
    p, _ = mp.shell(g)
    s = g.uniform(0.35, 1.0)
    return affinity.scale(p, s, s * g.uniform(0.6, 1.1)).buffer(0), g.uniform(0.8, 12)


def module_any(g):
    p, _ = mp.module(g)
    return p, g.uniform(0.5, 12)


NEW = {"blob": blob, "plate": plate, "grille": grille, "frame": frame_part, "washer": washer, "bit": bit, "bar": bar, "case": shell_thick,
       "knob": module_any}


def face(g, path, tone):
    """A drawn top: shapes, lettering and marks over a tone."""
    h, w = 700, 700
    img = np.empty((h, w, 3), np.uint8)
    img[:] = tone
    for _ in range(g.integers(5, 60)):
        c = [int(v) for v in g.uniform(0, 255, 3)] if g.random() < 0.5 else [int(v) for v in np.clip(np.array(tone) + g.normal(0, 50), 0, 255)]
        x, y = (int(v) for v in g.uniform(0, 700, 2))
        k, s = g.integers(5), int(g.uniform(4, 90))
        if k == 0:
            cv2.circle(img, (x, y), s // 2 + 1, c, -1 if g.random() < 0.7 else 2, cv2.LINE_AA)
        elif k == 1:
            cv2.rectangle(img, (x, y), (x + s, y + int(s * g.uniform(0.2, 2))), c, -1)
        elif k == 2:
            cv2.line(img, (x, y), (x + int(g.normal(0, 200)), y + int(g.normal(0, 200))), c, int(g.integers(1, 8)), cv2.LINE_AA)
        elif k == 3:
            cv2.putText(img, "".join(chr(int(v)) for v in g.integers(48, 91, 5)), (x, y), 0, g.uniform(0.4, 2), c, int(g.integers(1, 4)), cv2.LINE_AA)
        else:
            soft = np.zeros((h, w), np.float32)
            cv2.circle(soft, (x, y), 2 * s + 10, 1.0, -1)
            soft = cv2.GaussianBlur(soft, (0, 0), 20)[..., None] * g.uniform(0.2, 0.8)
            img[:] = (img * (1 - soft) + np.array(c) * soft).astype(np.uint8)
    if g.random() < 0.5:
        img[:] = np.clip(img * (1 + 0.08 * cv2.GaussianBlur(g.standard_normal((h, w)).astype(np.float32), (0, 0), 2)[..., None] * 3), 0, 255)
    Image.fromarray(img).save(path)


def coloured(g, rec, tone, path, drawn):
    """Gives a part's record a tone of its own, and in a share `drawn` of all a drawn face, in a file at `path`."""
    rec["rgb"] = tone
    if g.random() < drawn:
        face(g, path, tone)
        rec["top_texture"] = path.name


def tone_of(g):
    k = g.integers(5)
    if k == 0:
        v = g.uniform(150, 252)                        # whites and light greys, the hardest
        return [int(np.clip(v + d, 0, 255)) for d in g.normal(0, 4, 3)]
    if k == 1:
        v = g.uniform(10, 150)
        return [int(np.clip(v + d, 0, 255)) for d in g.normal(0, 3, 3)]
    return [int(v) for v in g.uniform(10, 245, 3)]
