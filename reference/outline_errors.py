"""Captured outlines against true ones: which belong together, and how far apart they run, by Shapely."""
from dataclasses import dataclass, field

import numpy as np
import shapely

STEP_MM = 0.25      # sampling of both outlines
LEAST_IOU = 0.5     # from here on a part counts as found
LEAST_PAPER_MM = 0.6    # an opening that shows less paper need not be found

# Finishes whose edges a photo shows without mirror images: diffuse bodies with at most a broad sheen.
MATT = ("black_plastic", "white_plastic", "pcb", "flex", "card")


@dataclass
class Part:
    """One part of the truth and what was captured of it."""

    name: str
    material: str
    true: shapely.Polygon
    rim_z_mm: float
    found: shapely.Polygon | None = None
    index: int | None = None                # which captured outline
    iou: float = 0.0
    sigma_mm: float | None = None
    hidden: int = 0                         # openings that show too little paper, and were not found
    asked: int = 0                          # openings that show enough
    unseen: int = 0                         # of these, not found
    errors: np.ndarray = field(default_factory=lambda: np.zeros(0))     # distances both ways, mm
    outwards: np.ndarray = field(default_factory=lambda: np.zeros(0))   # captured points only; inside is negative


@dataclass
class Comparison:
    """One photo's parts, and captured outlines that belong to no part."""

    parts: list
    invented: list
    openings_invented: int = 0              # captured openings where there is material

    def missed(self):
        return [p for p in self.parts if p.found is None]

    def openings(self):
        """How many openings show enough paper to be asked for, and how many of these were not found."""
        return sum(p.asked for p in self.parts), sum(p.unseen for p in self.parts)

    def by_material(self):
        """Pooled errors of the found parts per material, and of all matt ones."""
        pools = {}
        for p in self.parts:
            if p.found is not None:
                pools.setdefault(p.material, []).append(p.errors)
                if p.material in MATT:
                    pools.setdefault("all matt", []).append(p.errors)
        order = sorted(pools, key=lambda m: (m == "all matt", m))
        return {m: np.concatenate(pools[m]) for m in order}


def samples(polygon):
    """Points at equal steps of at most STEP_MM along every ring."""
    points = []
    for ring in [polygon.exterior, *polygon.interiors]:
        n = max(int(np.ceil(ring.length / STEP_MM)), 8)
        points.append(shapely.line_interpolate_point(ring, np.arange(n) / n, normalized=True))
    return np.concatenate(points)


def polygon_of(outline):
    """A captured outline; one that is not valid is an error of the program, not to be mended here."""
    polygon = shapely.Polygon(outline["outer"], outline.get("holes", []))
    if not polygon.is_valid:
        raise ValueError(f"captured outline is not valid: {shapely.is_valid_reason(polygon)}")
    return polygon


def iou(a, b):
    if not a.intersects(b):
        return 0.0
    common = a.intersection(b).area
    return common / (a.area + b.area - common)


def compare(truth, outlines):
    """`truth`: the photo's truth file; `outlines`: from `capture --json`. Both in mm of the sheet.

    Each captured outline belongs to the true part that it overlaps best. Parts that stand on others
    do not count: they are neither missed, nor is an outline of one an invention.
    """
    parts, on_others, shows = [], [], []
    for p in truth["parts"]:
        polygon = shapely.Polygon(p["outline_mm"], p["holes_mm"])
        if p.get("on"):
            on_others.append(polygon)
        else:
            parts.append(Part(p["name"], p["material"], polygon, p["rim_z_mm"]))
            shows.append([paper_shown_mm(shapely.Polygon(h), p, truth["camera"]) for h in p["holes_mm"]])
    captured = [polygon_of(o) for o in outlines]
    pairs = sorted(((iou(p.true, c), i, j) for i, p in enumerate(parts) for j, c in enumerate(captured)), reverse=True)
    taken = set()
    for score, i, j in pairs:
        part = parts[i]
        if score < LEAST_IOU or part.found is not None or j in taken:
            continue
        taken.add(j)
        part.found, part.index, part.iou, part.sigma_mm = captured[j], j, score, outlines[j].get("sigma_mm")
        leave_out_hidden(part, shows[i])
        measure(part)
    invented = [j for j, c in enumerate(captured)
                if j not in taken and not any(iou(c, o) >= LEAST_IOU for o in on_others)]
    material = shapely.union_all([p.true for p in parts] + on_others)
    openings = [shapely.Polygon(h) for c in captured for h in c.interiors]
    return Comparison(parts, invented, sum(o.intersection(material).area > 0.5 * o.area for o in openings))


def paper_shown_mm(opening, part, camera):
    """Width of the paper that the camera sees through an opening with upright walls: its width less r h/(H-h), where r is its
    distance from the nadir, h the part's thickness and H the camera's height."""
    x, y, height = camera["position_mm"]
    radius = shapely.maximum_inscribed_circle(opening, 0.02).length
    away = np.hypot(opening.centroid.x - x, opening.centroid.y - y)
    return 2 * radius - away * part["thickness_mm"] / (height - part["thickness_mm"])


def leave_out_hidden(part, shown_mm):
    """Openings that show too little paper to be asked for, and were not captured either, leave the truth; the others are counted."""
    kept = []
    for ring, mm in zip(part.true.interiors, shown_mm):
        opening = shapely.Polygon(ring)
        filled = opening.intersection(part.found).area / opening.area
        part.asked += mm >= LEAST_PAPER_MM
        part.unseen += mm >= LEAST_PAPER_MM and filled > 0.5
        if mm < LEAST_PAPER_MM and filled > 0.7:
            part.hidden += 1
        else:
            kept.append(ring)
    part.true = shapely.Polygon(part.true.exterior, kept)


def measure(part):
    there, back = samples(part.true), samples(part.found)
    shapely.prepare(part.true), shapely.prepare(part.found)
    towards_found = shapely.distance(there, part.found.boundary)
    towards_true = shapely.distance(back, part.true.boundary)
    inside = shapely.contains(part.true, back)
    part.errors = np.concatenate([towards_found, towards_true])
    part.outwards = np.where(inside, -towards_true, towards_true)


def rms(errors):
    return float(np.sqrt(np.mean(np.square(errors)))) if len(errors) else float("nan")


def part_table(comparison):
    """One line per part, as text."""
    lines = [f"{'part':16} {'material':14} {'holes':>7} {'IoU':>7} {'area %':>7} {'RMS':>7} {'p95':>7} {'max':>7} {'bias':>7} {'sigma':>7}"]
    for p in comparison.parts:
        head = f"{p.name:16.16} {p.material:14.14}"
        if p.found is None:
            lines.append(f"{head} missed")
            continue
        area = 100 * (p.found.area / p.true.area - 1)
        holes = f"{len(p.found.interiors)}/{len(p.true.interiors)}"
        sigma = f"{p.sigma_mm:7.3f}" if p.sigma_mm is not None else f"{'-':>7}"
        lines.append(f"{head} {holes:>7} {p.iou:7.4f} {area:+7.2f} {rms(p.errors):7.3f} {np.percentile(p.errors, 95):7.3f} "
                     f"{p.errors.max():7.3f} {p.outwards.mean():+7.3f} {sigma}")
    return lines


def pooled_table(comparison):
    """One line per material, as text; errors in mm."""
    lines = [f"{'material':16} {'points':>7} {'RMS':>7} {'p95':>7} {'max':>7}"]
    for material, e in comparison.by_material().items():
        lines.append(f"{material:16} {len(e):7d} {rms(e):7.3f} {np.percentile(e, 95):7.3f} {e.max():7.3f}")
    return lines
