"""The demo's piece recomputed by Shapely: outlines, areas, clearances, where everything lies, and its drawing.

    outlines.py --setapart BINARY --demo DIR      DIR holds the demo's piece.json
"""
import itertools
import json
import os
import re
import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import shapely
import shapely.affinity

import tally
from fit import drawn

SHAPELY = "Shapely"
RELATIVE = 1e-6         # agreement of areas and lengths
TOUCH_MM = 1e-6         # what counts as less than nothing in a distance


def ring_is_open(ring):
    return len(ring) >= 3 and ring[0] != ring[-1]


def polygon_of(part):
    return shapely.Polygon(part["outline"]["outer"], part["outline"].get("holes", []))


def on_board(part, placement):
    """As the piece document defines it: mirrored where the back is shown, turned about the origin, shifted."""
    polygon = polygon_of(part)
    if part.get("face_shown", "front") == "back":
        left, _, right, _ = polygon.bounds
        polygon = shapely.transform(polygon, lambda p: np.column_stack([left + right - p[:, 0], p[:, 1]]))
    polygon = shapely.affinity.rotate(polygon, placement.get("turn_deg", 0.0), origin=(0, 0))
    return shapely.affinity.translate(polygon, placement["x"], placement["y"])


def window_and_field(frame):
    """The visible window and what spacer and margin leave of it, board coordinates."""
    (w, h), lip, m, s = frame["size_mm"], frame["lip_mm"], frame["margin_mm"], frame.get("spacer_width_mm", 0.0)
    window = shapely.box(0, 0, w - 2 * lip, h - 2 * lip)
    field = shapely.box(m["left"] + s, m["bottom"] + s, w - 2 * lip - m["right"] - s, h - 2 * lip - m["top"] - s)
    return window, field



def check_rings(piece, count):
    bad_rings, invalid, wrong_way = [], [], []
    for part in piece["parts"]:
        rings = [part["outline"]["outer"], *part["outline"].get("holes", [])]
        polygon = polygon_of(part)
        if not all(map(ring_is_open, rings)):
            bad_rings.append(part["id"])
        if not polygon.is_valid:
            invalid.append(f"{part['id']}: {shapely.is_valid_reason(polygon)}")
        if not polygon.exterior.is_ccw or any(h.is_ccw for h in polygon.interiors):
            wrong_way.append(part["id"])
    count.check(not bad_rings, f"every ring is open ({bad_rings or len(piece['parts'])})", "piece document")
    count.check(not invalid, f"every outline is valid ({invalid or len(piece['parts'])})", SHAPELY)
    count.check(not wrong_way, f"outer rings run counter-clockwise, holes clockwise ({wrong_way or 'all'})", "piece document")


def check_measures(piece, shown, measured, count):
    ours = {m["part"]: m for m in measured["parts"]}
    count.check(set(ours) == {p["id"] for p in piece["parts"]}, "`measure` lists every part once", "piece document")
    worst_area, worst_length, worst_bounds = 0.0, 0.0, 0.0
    for part in piece["parts"]:
        polygon, m = polygon_of(part), ours.get(part["id"])
        if m is None:
            continue
        worst_area = max(worst_area, abs(m["area_mm2"] / polygon.area - 1))
        worst_length = max(worst_length, abs(m["perimeter_mm"] / polygon.length - 1))
        if part["id"] in shown:
            worst_bounds = max(worst_bounds, np.abs(np.subtract(np.ravel(m["bounds"]), shown[part["id"]].bounds)).max())
    count.check(worst_area <= RELATIVE, f"areas agree within {worst_area:.1e} relative, limit {RELATIVE}", SHAPELY)
    count.check(worst_length <= RELATIVE, f"perimeters agree within {worst_length:.1e} relative", SHAPELY)
    count.check(worst_bounds <= 1e-6, f"bounds on the board agree within {worst_bounds:.1e} mm", SHAPELY)
    worst = 0.0
    for pair in measured["pairs"]:
        worst = max(worst, abs(pair["clearance_mm"] - shown[pair["a"]].distance(shown[pair["b"]])))
    count.check(worst <= 1e-6 and bool(measured["pairs"]), f"{len(measured['pairs'])} clearances agree within {worst:.1e} mm", SHAPELY)


def check_layout(piece, shown, count):
    gap = piece["layout"]["gap_mm"]
    missing = sorted({p["id"] for p in piece["parts"]} - set(shown))
    count.check(not missing, f"every part is placed ({missing or len(shown)})", "piece document")
    overlap, least, pair = 0.0, np.inf, None
    for a, b in itertools.combinations(shown, 2):
        overlap = max(overlap, shown[a].intersection(shown[b]).area)
        d = shown[a].distance(shown[b])
        if d < least:
            least, pair = d, (a, b)
    count.check(overlap == 0.0, f"no parts overlap ({overlap:.3g} mm2)", SHAPELY)
    count.check(least >= gap - TOUCH_MM, f"least distance {least:.4f} mm between {pair}, gap asked {gap}", SHAPELY)
    window, field = window_and_field(piece["frame"])
    outside = [part for part, p in shown.items() if not field.buffer(TOUCH_MM).covers(p)]
    count.check(not outside, f"every part lies inside the window less its margin ({outside or len(shown)})", SHAPELY)
    kept_out = [shapely.box(k["x"], k["y"], k["x"] + k["w"], k["y"] + k["h"]) for k in piece["layout"].get("keep_outs", [])]
    hit = [part for part, p in shown.items() if any(p.intersection(k).area > 0 for k in kept_out)]
    count.check(not hit, f"no part lies in a keep-out ({hit or len(kept_out)})", SHAPELY)


def check_captions(piece, shown, count):
    window, _ = window_and_field(piece["frame"])
    boxes = [(c, shapely.box(c["x"], c["y"], c["x"] + c["w"], c["y"] + c["h"])) for c in piece["captions"]]
    captioned = {c["part"] for c, _ in boxes}
    count.check(bool(boxes) and captioned <= set(shown), f"{len(boxes)} captions, each of a placed part", "piece document")
    on_part = [f"{c['part']} on {part}" for c, box in boxes for part, p in shown.items() if box.intersects(p)]
    count.check(not on_part, f"no caption touches a part ({on_part or len(boxes)})", SHAPELY)
    outside = [c["part"] for c, box in boxes if not window.covers(box)]
    count.check(not outside, f"every caption lies inside the window ({outside or len(boxes)})", SHAPELY)
    crossed = [f"{a[0]['part']} and {b[0]['part']}" for a, b in itertools.combinations(boxes, 2) if a[1].intersects(b[1])]
    count.check(not crossed, f"no captions overlap ({crossed or len(boxes)})", SHAPELY)
    leaders = [(c, shapely.LineString(c["leader"])) for c, _ in boxes if len(c.get("leader", [])) >= 2]
    astray = [c["part"] for c, line in leaders if shown[c["part"]].distance(shapely.Point(line.coords[-1])) > 0.5]
    count.check(not astray, f"{len(leaders)} leaders end at their part ({astray or 'all'})", SHAPELY)
    over = [f"{c['part']} over {part}" for c, line in leaders for part, p in shown.items() if part != c["part"] and line.intersects(p)]
    print(f"note  leaders over other parts: {over or 'none'}")


def svg_arc(start, end, radius, large, sweep, chord_mm=0.0002):
    """Points of an arc of a circle behind its start, as SVG 1.1 defines it (F.6.5; y down)."""
    start, end = np.asarray(start), np.asarray(end)
    half = (start - end) / 2
    length = np.hypot(*half)
    radius = max(radius, length)
    off = np.sqrt(max(radius**2 / length**2 - 1, 0.0)) * (1 if large != sweep else -1)
    centre = (start + end) / 2 + off * np.array([half[1], -half[0]])
    a, b = (np.arctan2(*(p - centre)[::-1]) for p in (start, end))
    angle = (b - a) % (2 * np.pi) if sweep else -((a - b) % (2 * np.pi))
    n = max(2, int(np.ceil(abs(angle) / (2 * np.arccos(1 - min(1.0, chord_mm / radius))))))
    t = a + np.arange(1, n) / n * angle
    return [*map(tuple, centre + radius * np.column_stack([np.cos(t), np.sin(t)])), tuple(end)]


def rings_of(d):
    """The rings of an SVG path of straight lines and arcs of circles."""
    rings = []
    for kind, numbers in re.findall(r"([A-Za-z])([^A-Za-z]*)", d):
        numbers = list(map(float, numbers.replace(",", " ").split()))
        if kind == "M":
            rings.append([tuple(numbers)])
        elif kind == "L":
            rings[-1].append(tuple(numbers))
        elif kind == "A" and numbers[0] == numbers[1] and numbers[2] == 0:
            rings[-1] += svg_arc(rings[-1][-1], numbers[5:7], numbers[0], *numbers[3:5])
        elif kind != "Z":
            raise ValueError(f"{kind} in a path of an outline")
    return rings


def piece_of(outlines, frame_mm):
    """A piece of captured outlines, each laid where it was on the sheet."""
    def part(k, o):
        x, y = np.min(o["outer"], axis=0)
        shifted = lambda rings: [[[p[0] - x, p[1] - y, *p[2:]] for p in r] for r in rings]
        outline = {"outer": shifted([o["outer"]])[0], "holes": shifted(o["holes"])}
        if "exact" in o:
            outline["exact"] = {"outer": shifted([o["exact"]["outer"]])[0], "holes": shifted(o["exact"]["holes"])}
        return {"id": f"p{k}", "name": f"Part {k}", "kind": "other", "outline": outline}, {"part": f"p{k}", "x": x, "y": y, "turn_deg": 0}

    both = [part(k, o) for k, o in enumerate(outlines)]
    return {"format": "setapart-piece", "version": 1, "name": "Arcs",
            "frame": {"size_mm": frame_mm, "lip_mm": 6, "board_clearance_mm": 2,
                      "margin_mm": {"left": 0, "right": 0, "top": 0, "bottom": 0}},
            "parts": [p for p, _ in both], "placements": [q for _, q in both]}


def check_arcs(args, count):
    """The demo's boards as lines and arcs, drawn by `sheets`: the drawing's arcs are those of the piece."""
    photo = tally.ROOT / "tests/data/demo/2-boards.jpg"
    told = tally.run(args.setapart, "capture", photo, "--thickness", "1.6", "--json").stdout
    outlines = json.loads(told)["captures"][0]["outlines"]
    piece = piece_of(outlines, [222, 309])
    folder = args.out / "arcs"
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "piece.json").write_text(json.dumps(piece))
    tally.run(args.setapart, "sheets", "--in", folder / "piece.json", "--out", folder)
    behind = piece["frame"]["lip_mm"] - piece["frame"]["board_clearance_mm"] / 2
    h = piece["frame"]["size_mm"][1] - piece["frame"]["board_clearance_mm"]
    svg = ElementTree.parse(folder / "outlines.svg").getroot()
    paths = [e.get("d") for e in svg.iter("{http://www.w3.org/2000/svg}path") if e.get("id") not in (None, "board", "window")]
    worst, arcs = 0.0, sum(d.count("A") for d in paths)
    for d, outline in zip(paths, outlines):
        rings = [[(x - behind, h - y - behind) for x, y in ring] for ring in rings_of(d)]
        ours, exact = shapely.Polygon(rings[0], rings[1:]), drawn(outline["exact"])
        worst = max(worst, shapely.hausdorff_distance(ours.boundary, exact.boundary, densify=0.01))
    count.check(len(paths) == len(outlines) and arcs > 0 and worst <= 0.0006,
                f"outlines.svg of {len(paths)} tidied captures: {arcs} arcs, {worst:.1e} mm from the piece's, limit 0.0006", SHAPELY)


def check_svg(path, piece, shown, count):
    """The drawing of all outlines, scale 1:1: its page is the board, whose edge lies behind the frame's lip."""
    svg = ElementTree.parse(path).getroot()
    frame = piece["frame"]
    behind = frame["lip_mm"] - frame["board_clearance_mm"] / 2
    w, h = (s - frame["board_clearance_mm"] for s in frame["size_mm"])
    box = [float(v) for v in svg.get("viewBox").split()]
    size = [svg.get(k) for k in ("width", "height")]
    real = all(s.endswith("mm") for s in size) and np.allclose([float(s[:-2]) for s in size], (w, h), atol=1e-4)
    count.check(real and np.allclose(box, (0, 0, w, h), atol=1e-4), f"{path.name}: the page is the board, {w} x {h} mm, a unit is a mm", "SVG 2")
    drawn = [e for e in svg.iter("{http://www.w3.org/2000/svg}path") if e.get("id") not in (None, "board", "window")]
    order = [p["id"] for p in piece["parts"] if p["id"] in shown]
    worst = 0.0
    for element, part in zip(drawn, order):
        rings = [[(x - behind, h - y - behind) for x, y in ring] for ring in rings_of(element.get("d"))]
        worst = max(worst, shapely.hausdorff_distance(shapely.Polygon(rings[0], rings[1:]).boundary, shown[part].boundary))
    # The drawing has arcs where the piece has; the piece's points are chords of them, no farther off than 0.005 mm.
    limit = 0.0051 if any("exact" in p["outline"] for p in piece["parts"]) else 1e-4
    count.check(len(drawn) == len(order) and worst <= limit, f"{path.name}: {len(drawn)} outlines lie within {worst:.1e} mm of the piece's, limit {limit}", SHAPELY)


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--demo", type=Path, default=Path(os.environ.get("SETAPART_DEMO_OUT", "demo-out")))
    args = parser.parse_args()
    path = args.demo / "piece.json"
    piece = json.loads(path.read_text())
    measured = json.loads(tally.run(args.setapart, "measure", "--in", path, "--json").stdout)
    parts = {p["id"]: p for p in piece["parts"]}
    shown = {p["part"]: on_board(parts[p["part"]], p) for p in piece["placements"]}
    count = tally.Tally()
    check_rings(piece, count)
    check_measures(piece, shown, measured, count)
    check_layout(piece, shown, count)
    check_captions(piece, shown, count)
    check_svg(args.demo / "outlines.svg", piece, shown, count)
    check_arcs(args, count)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
