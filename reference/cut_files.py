"""Cut files read by programs that are not ours: every DXF audited by ezdxf, areas of DXF and SVG against Shapely, mm size.

    cut_files.py --setapart BINARY --demo DIR      DIR holds the demo's piece.json
"""
import json
import math
import os
import sys
import warnings
from pathlib import Path

import ezdxf
from ezdxf import path as dxf_path
from shapely import affinity
from shapely.geometry import Polygon
from svgelements import SVG, Close, Move
from svgelements import Path as SvgPath

import tally

EZDXF = f"ezdxf {ezdxf.__version__}"
SHAPELY = "Shapely, areas of piece.json"
AREA_LIMIT = 1e-4


def polygons(piece):
    """Every placed part's outline on the board, by Shapely."""
    places = {p["part"]: p for p in piece["placements"]}
    found = []
    for part in piece["parts"]:
        place = places.get(part["id"])
        if place is None:
            continue
        outline = part["outline"]
        shape = Polygon(outline["outer"], outline.get("holes", []))
        if part.get("face_shown") == "back":
            x0, _, x1, _ = shape.bounds
            shape = affinity.scale(shape, -1, 1, origin=((x0 + x1) / 2, 0))
        shape = affinity.rotate(shape, place.get("turn_deg", 0), origin=(0, 0))
        found.append(affinity.translate(shape, place["x"], place["y"]))
    return found


def true_areas(piece):
    """Area of each ring of the placed parts; of lines and arcs where the document has them, whose points are but chords."""
    placed = {p["part"] for p in piece["placements"]}
    areas = []
    for outline in (p["outline"] for p in piece["parts"] if p["id"] in placed):
        form = outline.get("exact", outline)
        areas += [abs(bulge_area([(*p[:2], p[2] if len(p) > 2 else 0.0) for p in ring])) for ring in [form["outer"], *form.get("holes", [])]]
    return areas


def board_size(piece):
    frame = piece["frame"]
    return [v - frame["board_clearance_mm"] for v in frame["size_mm"]]


def window_size(piece):
    frame = piece["frame"]
    return [v - 2 * frame["lip_mm"] for v in frame["size_mm"]]


def ring_area(points):
    return 0.5 * sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, points[1:] + points[:1]))


def bulge_area(points):
    """Area of a closed line of points with bulges: chords by the shoelace formula, segments of circles from their bulges."""
    area = ring_area([(x, y) for x, y, _ in points])
    for (x0, y0, bulge), (x1, y1, _) in zip(points, points[1:] + points[:1]):
        if bulge:
            angle = 4 * math.atan(bulge)
            radius = math.hypot(x1 - x0, y1 - y0) / (2 * math.sin(angle / 2))
            area += 0.5 * radius**2 * (angle - math.sin(angle))
    return area


def audit(path, count):
    document = ezdxf.readfile(path)
    auditor = document.audit()
    said = [str(e.message) for e in auditor.errors + auditor.fixes]
    count.check(not said, f"{path.name}: audited ({said[:3] or 'no error'})", EZDXF)
    count.check(document.dxfversion == "AC1015" and document.units == 4, f"{path.name}: release 2000, mm", EZDXF)
    return document


def layer_areas(document, layer):
    entities = document.modelspace().query(f'LWPOLYLINE[layer=="{layer}"]')
    return [abs(bulge_area(list(e.get_points("xyb")))) for e in entities], all(e.closed for e in entities)


def check_layer(name, document, layer, wanted, count, source):
    """Signed rings: an outline's area is its outer ring less its holes; here the sums are compared ring by ring."""
    areas, closed = layer_areas(document, layer)
    count.check(closed and len(areas) == len(wanted), f"{name}: {layer} has {len(areas)} closed lines, wanted {len(wanted)}", EZDXF)
    off = [abs(a / w - 1) for a, w in zip(sorted(areas), sorted(wanted))]
    worst = max(off, default=0)
    count.check(len(areas) == len(wanted) and worst <= AREA_LIMIT, f"{name}: {layer} areas within {worst:.2e}", source)


def rings(shapes):
    return [abs(Polygon(r).area) for s in shapes for r in (s.exterior, *s.interiors)]


def svg_areas(path):
    """Areas of every group's paths by svgelements, and the size in mm. Lines and arcs only, arcs as 400 chords."""
    svg = SVG.parse(str(path), reify=True, ppi=25.4)
    found = {}
    for element in svg.elements():
        if not isinstance(element, SvgPath):
            continue
        parent = element.values.get("id") or ""
        area = []
        for sub in element.as_subpaths():
            points = []
            for segment in sub:
                if isinstance(segment, (Move, Close)):
                    if segment.end is not None:
                        points.append((segment.end.x, segment.end.y))
                    continue
                n = 1 if type(segment).__name__ == "Line" else 400
                points += [(p.x, p.y) for p in (segment.point(k / n) for k in range(1, n + 1))]
            area.append(abs(ring_area(points)))
        found.setdefault(parent, []).extend(area)
    return found, (svg.width, svg.height)


def check_svg(path, size, wanted, count):
    areas, (w, h) = svg_areas(path)
    count.check(abs(w - size[0]) < 1e-3 and abs(h - size[1]) < 1e-3, f"{path.name}: {w:.3f} x {h:.3f} mm, wanted {size[0]:.3f} x {size[1]:.3f}", "svgelements")
    found = sorted(a for part in areas.values() for a in part)
    off = [abs(a / w - 1) for a, w in zip(found, sorted(wanted))]
    right = len(found) == len(wanted) and max(off, default=0) <= AREA_LIMIT
    count.check(right, f"{path.name}: {len(found)} rings, areas within {max(off, default=0):.2e}", "svgelements against Shapely")


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--demo", type=Path, default=Path(os.environ.get("SETAPART_DEMO_OUT", "demo-out")))
    args = parser.parse_args()
    warnings.simplefilter("ignore")
    out = args.out / "cut-files"
    out.mkdir(parents=True, exist_ok=True)
    count = tally.Tally()
    source = args.demo / "piece.json"
    piece = json.loads(source.read_text())
    plain = out / "plain"
    tally.run(args.setapart, "sheets", "--in", source, "--out", plain)
    shapes = polygons(piece)
    (bw, bh), (ww, wh) = board_size(piece), window_size(piece)
    document = audit(plain / "cut.dxf", count)
    check_layer("cut.dxf", document, "OUTLINES", true_areas(piece), count, SHAPELY)
    check_layer("cut.dxf", document, "MAT_WINDOW", [ww * wh], count, SHAPELY)
    check_layer("cut.dxf", document, "BOARD_EDGE", [bw * bh], count, SHAPELY)
    frame = dxf_path.bbox(dxf_path.make_path(e) for e in document.modelspace())
    count.check(abs(frame.size.x - bw) < 1e-6 and abs(frame.size.y - bh) < 1e-6, f"cut.dxf: {frame.size.x:.3f} x {frame.size.y:.3f} mm over all", EZDXF)
    fills = [abs(Polygon(s["outer"], s.get("holes", [])).area) for s in piece.get("build", {}).get("supports", [])]
    holes = [math.pi * (h["diameter_mm"] / 2) ** 2 for f in piece.get("build", {}).get("fasteners", []) for h in f["holes"]]
    if fills:
        outer = [abs(Polygon(s["outer"]).area) for s in piece["build"]["supports"]]
        inner = [abs(Polygon(h).area) for s in piece["build"]["supports"] for h in s.get("holes", [])]
        check_layer("cut.dxf", document, "FILLS", outer + inner, count, SHAPELY)
        audit(plain / "supports.dxf", count)
    if holes:
        check_layer("cut.dxf", document, "BOARD_HOLES", holes, count, "pi d^2 / 4")
    # Half a tool outside the edge of what is kept, inside the window: Shapely's own offsets, in fine steps.
    tool = 0.4
    grown = out / "tool"
    tally.run(args.setapart, "sheets", "--in", source, "--out", grown, "--tool", tool)
    document = audit(grown / "cut.dxf", count)
    moved = [s.buffer(tool / 2, quad_segs=400) for s in shapes]
    areas, _ = layer_areas(document, "OUTLINES")
    # Rounded joins of 0.005 mm chord error and 0.01 mm of tidying: compared by area over all.
    got, wanted = sum(areas), sum(rings(moved))
    count.check(abs(got / wanted - 1) <= AREA_LIMIT, f"tool {tool} mm: outlines' areas {got:.2f} mm2, Shapely's buffer {wanted:.2f}", "Shapely buffer")
    check_layer("tool 0.4 mm", document, "MAT_WINDOW", [(ww - tool) * (wh - tool)], count, "the window less the tool")
    check_svg(plain / "cut.svg", (bw, bh), true_areas(piece) + [ww * wh, bw * bh] + ([] if not fills else outer + inner) + holes, count)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
