"""Invented devices for arranging: a seeded generator of piece documents, 8 to 60 parts, homes and layers included.

The numbers come from `random.Random`, whose `random()` and seeding Python keeps stable from version to version.
"""
import math
import random

import shapely
import shapely.affinity

COUNT = 200
LEAST_PARTS, MOST_PARTS = 8, 60


def rounded(x, y, w, h, r):
    r = min(r, 0.49 * w, 0.49 * h)
    return shapely.box(x + r, y + r, x + w - r, y + h - r).buffer(r, quad_segs=8)


def disc(x, y, r):
    return shapely.Point(x, y).buffer(r, quad_segs=18)


class Dice:
    def __init__(self, seed):
        self.random = random.Random(seed)

    def between(self, low, high):
        return low + (high - low) * self.random.random()

    def below(self, n):
        return int(self.random.random() * n)


def part_of(part_id, name, kind, layer, shape):
    """A part drawn where it sits in the device; its origin is its box's lower-left corner."""
    x, y, _, _ = shape.bounds
    at_origin = shapely.affinity.translate(shape, -x, -y)
    shape = shapely.geometry.polygon.orient(at_origin)
    ring = lambda r: [[round(px, 4), round(py, 4)] for px, py in r.coords[:-1]]
    return {"id": part_id, "name": name, "kind": kind,
            "outline": {"outer": ring(shape.exterior), "holes": [ring(h) for h in shape.interiors]},
            "home": {"x": round(x, 4), "y": round(y, 4), "turn_deg": 0, "layer": layer}}


def shape_of(kind, dice, w, h):
    """A part's shape with its box's corner at the origin, in a device of w x h mm."""
    if kind == "board":
        pw, ph = dice.between(0.4, 0.9) * w, dice.between(0.2, 0.6) * h
        body = rounded(0, 0, pw, ph, dice.between(0.5, 3))
        notch = rounded(dice.between(0.5, 0.75) * pw, dice.between(0.5, 0.75) * ph, pw, ph, 0.5)
        holes = [disc(4, 4, 1.1), disc(0.3 * pw, ph - 4, 1.1)]
        return body.difference(shapely.union_all([notch, *holes]))
    if kind == "ribbon":
        length, wide = dice.between(0.2, 0.5) * h, dice.between(4, 8)
        foot = rounded(0, 0, wide + dice.between(4, 10), 6, 1)
        return shapely.union_all([rounded(0, 0, wide, length, 0.8), foot])
    if kind == "bracket":
        long, wide = dice.between(0.3, 0.8) * w, dice.between(6, 10)
        arm = rounded(0, 0, wide, wide + dice.between(0, 14), 1.5)
        return shapely.union_all([rounded(0, 0, long, wide, 1.5), arm]).difference(disc(3.5, 3.5, 1.2))
    if kind in ("speaker", "motor", "wheel"):
        r = dice.between(4, 13)
        body = disc(r, r, r)
        return body.difference(disc(r, r, 0.25 * r)) if kind == "wheel" else body
    return rounded(0, 0, dice.between(7, 26), dice.between(7, 26), dice.between(0.5, 4))


NAMES = {"board": "Board", "ribbon": "Ribbon", "speaker": "Speaker", "bracket": "Bracket", "shield": "Shield can",
         "connector": "Socket", "motor": "Motor", "wheel": "Wheel", "camera": "Camera", "keys": "Key mat"}


def device(seed, parts_in_all=None):
    """A device of two shells, what lies between them, and screws at its back, as a list of parts: so many, or as the seed has it.

    Parts of one layer lie clear of each other where twenty throws find them room, else they go one layer back.
    """
    dice = Dice(seed)
    n = LEAST_PARTS + dice.below(MOST_PARTS - LEAST_PARTS + 1)
    n = n if parts_in_all is None else parts_in_all
    w, h = dice.between(45, 85), dice.between(70, 150)
    shell = rounded(0, 0, w, h, dice.between(4, 14))
    opening = rounded(0.15 * w, 0.5 * h, 0.7 * w, 0.35 * h, 2)
    screws = dice.below(5) if n > 9 else 0
    parts = [part_of("front", "Front shell", "shell", 0, shell.difference(opening))]
    layer, in_layer, to_come = 1, [], 1 + dice.below(5)
    for k in range(n - 2 - screws):
        kind = list(NAMES)[dice.below(len(NAMES))]
        shape = shape_of(kind, dice, w, h)
        if len(in_layer) >= to_come:
            layer, in_layer, to_come = layer + 1, [], 1 + dice.below(5)
        for throw in range(20):
            _, _, pw, ph = shape.bounds
            moved = shapely.affinity.translate(shape, dice.between(0, max(0, w - pw)), dice.between(0, max(0, h - ph)))
            if all(not moved.intersects(other) for other in in_layer):
                break
        else:
            layer, in_layer, to_come = layer + 1, [], 1 + dice.below(5)
        in_layer.append(moved)
        parts.append(part_of(f"p{k + 1}", f"{NAMES[kind]} {k + 1}", kind, layer, moved))
    parts.append(part_of("back", "Back shell", "shell", layer + 1, shell))
    for k in range(screws):
        x, y = [(5, 5), (w - 5, 5), (5, h - 5), (w - 5, h - 5)][k]
        parts.append(part_of(f"screw{k + 1}", "Case screw", "screw", layer + 2, disc(x, y, 1.8)))
    return parts


def piece(parts, name, size_mm, gap_mm=4.0, bare=False):
    """A piece document; `bare` leaves out lip, spacer and margins, so that the window is the frame's size."""
    side = 0.0 if bare else 12.0
    return {"format": "setapart-piece", "version": 1, "name": name,
            "frame": {"size_mm": [round(v, 6) for v in size_mm], "lip_mm": 0.0 if bare else 6.0,
                      "board_clearance_mm": 0.0 if bare else 2.0,
                      "margin_mm": {"left": side, "right": side, "top": side, "bottom": 1.5 * side},
                      "spacer_width_mm": 0.0 if bare else 5.0},
            "layout": {"style": "exploded", "gap_mm": gap_mm, "spread": "right", "keep_outs": []},
            "parts": parts, "placements": [], "captions": []}


def exploded_boxes(parts):
    """Boxes (x, y of the centre, width, height) where the device's layers are pulled out along x by 0.6 of its width each.

    Layers in which nothing lies are not counted.
    """
    boxes, layers = [], sorted({p["home"]["layer"] for p in parts})
    for part in parts:
        home = part["home"]
        turned = shapely.affinity.rotate(shapely.Polygon(part["outline"]["outer"]), home["turn_deg"], origin=(0, 0))
        x0, y0, x1, y1 = turned.bounds
        boxes.append([home["x"] + (x0 + x1) / 2, home["y"] + (y0 + y1) / 2, x1 - x0, y1 - y0])
    left = min(b[0] - b[2] / 2 for b in boxes)
    right = max(b[0] + b[2] / 2 for b in boxes)
    for box, part in zip(boxes, parts):
        box[0] += 0.6 * (right - left) * layers.index(part["home"]["layer"])
    return boxes
