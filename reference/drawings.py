"""Outlines of drawings against ezdxf, Shapely and plain geometry.

    drawings.py --setapart BINARY

DXF files are written by ezdxf; their areas are worked out from points that ezdxf finds on them, far closer than ours, and
Shapely's polygons. The same board is drawn as SVG, DXF and Gerber and must come out alike.
"""
import json
import math
import sys

import ezdxf
from shapely.geometry import Polygon

import tally

CHORD_MM = 0.005
EZDXF = "ezdxf, Shapely"
GEOMETRY = "plane geometry"

# An open add-on board standard: outline, corner radius, hole pattern (recalled, not verified).
BOARD = {"size": (65.0, 56.5), "corner": 3.0, "inset": 3.5, "holes": (58.0, 49.0), "hole_d": 2.7}


def captured(binary, path, *more):
    return json.loads(tally.run(binary, "capture", path, "--json", *more).stdout)["captures"][0]


def polygon(outline):
    return Polygon(outline["outer"], outline["holes"])


def dxf_file(path, draw, units=4, version="R2010"):
    doc = ezdxf.new(version)
    doc.units = units
    draw(doc, doc.modelspace())
    doc.saveas(path)


def true_points(entity):
    """Points on the entity itself. ezdxf's paths are not asked: they turn arcs into cubics."""
    kind = entity.dxftype()
    if kind == "LINE":
        return [entity.dxf.start, entity.dxf.end]
    return list(entity.flattening(1e-5))


def joined(runs):
    """Runs of points end to end; each is turned round where its end is nearer than its start."""
    points = list(runs[0])
    for run in runs[1:]:
        run = list(run)
        points += run if points[-1].distance(run[0]) <= points[-1].distance(run[-1]) else run[::-1]
    return points


def true_polygon(entities, unit_mm=1.0):
    """What ezdxf's points on closed entities enclose."""
    runs = []
    for e in entities:
        parts = list(e.virtual_entities()) if e.dxftype() in ("LWPOLYLINE", "POLYLINE") else [e]
        runs += [true_points(p) for p in parts]
    return Polygon([(p.x * unit_mm, p.y * unit_mm) for p in joined(runs)])


def check_entity(count, args, name, draw, unit=4, unit_mm=1.0, version="R2010"):
    path = args.out / f"{name}.dxf"
    made = []
    dxf_file(path, lambda doc, m: made.extend(draw(doc, m)), unit, version)
    truth = true_polygon(made, unit_mm)
    found = captured(args.setapart, path)["outlines"]
    if not count.check(len(found) == 1, f"{name}: one outline", EZDXF):
        return
    ours = polygon(found[0])
    miss = abs(ours.area - truth.area)
    count.check(miss <= truth.length * CHORD_MM, f"{name}: area {ours.area:.4f}, {truth.area:.4f} mm2", EZDXF)
    far = ours.hausdorff_distance(truth)
    # Our points lie on the curve, our sides leave it by the chord error; ezdxf's sides by 0.00001 of its unit.
    count.check(far <= CHORD_MM + 0.0005, f"{name}: {far:.4f} mm off at most", EZDXF)


def spline(_, m):
    s = m.add_open_spline([(0, 0), (10, 25), (30, -10), (50, 20), (40, 0)])
    return [s, m.add_line((40, 0), (0, 0))]


def rational(_, m):
    return [m.add_rational_spline([(0, 0), (0, 20), (30, 20), (30, 0)], [1, 3, 0.5, 1]), m.add_line((30, 0), (0, 0))]


def bulges(_, m):
    points = [(0, 0, 0.3), (20, 0, -0.2), (25, 15, 1.7), (5, 18, 0)]
    return [m.add_lwpolyline(points, format="xyb", close=True)]


def old_polyline(_, m):
    return [m.add_polyline2d([(0, 0, 0.3), (20, 0, -0.2), (25, 15, 0.7), (5, 18, 0)], format="xyb", close=True)]


def turned_block(doc, m):
    inner = doc.blocks.new("inner")
    inner.add_lwpolyline([(0, 0, 0), (8, 0, 1), (8, 4, 0), (0, 4, 0)], format="xyb", close=True)
    outer = doc.blocks.new("outer")
    outer.add_blockref("inner", (3, 2), dxfattribs={"rotation": 20, "xscale": 1.5, "yscale": 1.5})
    m.add_blockref("outer", (100, 50), dxfattribs={"rotation": -75})
    reference = m.query("INSERT").first
    flat = [e for nested in reference.virtual_entities() for e in nested.virtual_entities()]
    return flat


def mirrored(_, m):
    return [m.add_lwpolyline([(0, 0, 0.4), (10, 0, 0), (10, 7, 0)], format="xyb", close=True,
                             dxfattribs={"extrusion": (0, 0, -1)})]


def board_dxf(_, m):
    (w, h), r = BOARD["size"], BOARD["corner"]
    b = math.tan(math.pi / 8)
    points = [(r, 0, 0), (w - r, 0, b), (w, r, 0), (w, h - r, b), (w - r, h, 0), (r, h, b), (0, h - r, 0), (0, r, b)]
    m.add_lwpolyline(points, format="xyb", close=True)
    for x, y in hole_places():
        m.add_circle((x, y), BOARD["hole_d"] / 2)
    return []


def hole_places():
    i, (a, b) = BOARD["inset"], BOARD["holes"]
    return [(i, i), (i + a, i), (i, i + b), (i + a, i + b)]


def board_svg():
    (w, h), r = BOARD["size"], BOARD["corner"]
    holes = "".join(f'<circle cx="{x}" cy="{h - y}" r="{BOARD["hole_d"] / 2}"/>' for x, y in hole_places())
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">'
            f'<g fill="none" stroke="black"><rect width="{w}" height="{h}" rx="{r}"/>{holes}</g></svg>')


def board_gerber():
    (w, h), r = BOARD["size"], BOARD["corner"]

    def at(x, y, code):
        return f"X{round(x * 1e6)}Y{round(y * 1e6)}{code}*"

    def arc(x, y, i, j):
        return f"G03*{at(x, y, f'I{round(i * 1e6)}J{round(j * 1e6)}D01')}G01*"

    lines = ["%TF.FileFunction,Profile,NP*%", "%FSLAX46Y46*%", "%MOMM*%", "%ADD10C,0.05*%", "D10*", "G75*", "G01*",
             at(r, 0, "D02"), at(w - r, 0, "D01"), arc(w, r, 0, r), at(w, h - r, "D01"), arc(w - r, h, -r, 0),
             at(r, h, "D01"), arc(0, h - r, 0, -r), at(0, r, "D01"), arc(r, 0, r, 0)]
    for x, y in hole_places():
        d = BOARD["hole_d"] / 2
        lines += [at(x + d, y, "D02"), arc(x + d, y, -d, 0)]
    return "\n".join([*lines, "M02*"]) + "\n"


def check_board(count, args):
    (w, h), r, d = BOARD["size"], BOARD["corner"], BOARD["hole_d"]
    truth = w * h - (4 - math.pi) * r * r - math.pi * d * d
    curved = 2 * math.pi * r + 4 * math.pi * d
    dxf_file(args.out / "board.dxf", board_dxf)
    (args.out / "board.svg").write_text(board_svg())
    (args.out / "board.gbr").write_text(board_gerber())
    for kind in ("svg", "dxf", "gbr"):
        found = captured(args.setapart, args.out / f"board.{kind}")["outlines"]
        shape = polygon(found[0])
        count.check(len(found) == 1 and len(shape.interiors) == 4, f"board as {kind}: one outline, four holes", GEOMETRY)
        count.check(abs(shape.area - truth) <= curved * CHORD_MM, f"board as {kind}: area {shape.area:.3f}, {truth:.3f} mm2", GEOMETRY)
        places = sorted((round(c.x, 3), round(c.y, 3)) for c in (Polygon(i).centroid for i in shape.interiors))
        count.check(places == sorted(hole_places()), f"board as {kind}: holes at {places}", GEOMETRY)


def main():
    args = tally.arguments(__doc__).parse_args()
    args.out = args.out / "drawings"
    args.out.mkdir(parents=True, exist_ok=True)
    count = tally.Tally()
    check_board(count, args)
    check_entity(count, args, "spline", spline)
    check_entity(count, args, "rational spline", rational)
    check_entity(count, args, "bulges", bulges)
    check_entity(count, args, "bulges in inches", bulges, 1, 25.4)
    check_entity(count, args, "old polyline", old_polyline, version="R2000")
    check_entity(count, args, "ellipse", lambda _, m: [m.add_ellipse((5, 5), (20, 7), 0.35)])
    check_entity(count, args, "nested block", turned_block)
    check_entity(count, args, "mirrored", mirrored)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
