"""Outlines of drawings against ezdxf, Shapely and plain geometry.

    drawings.py --setapart BINARY

DXF files are written by ezdxf; their areas are worked out from points that ezdxf finds on them, far closer than ours, and
Shapely's polygons. An open-hardware board is drawn as SVG, DXF and Gerber from its published dimensions; each must come out with
them.
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

# The profile of an open-hardware board, revision C1 of github.com/GlasgowEmbedded/glasgow (0BSD or Apache-2.0), from what
# its makers publish beside each other in hardware/boards/glasgow/revC1 (commit 0f4267c1): lines and arcs from the profile layer
# glasgow-Edge_Cuts.gm1, the four mounting holes (tool T7) from glasgow.drl, the size over all from glasgow-job.gbrjob, which
# counts half a line of 0.1 mm at each side. The left side has a slot for the plug, with two rounded corners.
BOARD_SOURCE = "published profile, drill and job files, revC1"
BOARD = {"size": (80.0, 49.0), "corner": 4.0, "inset": 4.0, "holes": (72.0, 41.0), "hole_d": 3.5,
         "slot": {"deep": 0.7, "from": 19.9, "to": 29.1, "corner": 0.4}}
JOB_SIZE, JOB_LINE = (80.1, 49.1), 0.1


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


def board_sides():
    """Sides of the outer edge, counter-clockwise from the lower left: end, and centre and direction of an arc."""
    (w, h), r, slot = BOARD["size"], BOARD["corner"], BOARD["slot"]
    deep, low, high, q = slot["deep"], slot["from"], slot["to"], slot["corner"]
    return [((w - r, 0), None), ((w, r), ((w - r, r), 1)), ((w, h - r), None), ((w - r, h), ((w - r, h - r), 1)), ((r, h), None),
            ((0, h - r), ((r, h - r), 1)), ((0, high), None), ((deep - q, high), None), ((deep, high - q), ((deep - q, high - q), -1)),
            ((deep, low + q), None), ((deep - q, low), ((deep - q, low + q), -1)), ((0, low), None), ((0, r), None),
            ((r, 0), ((r, r), 1))]


def hole_places():
    i, (a, b) = BOARD["inset"], BOARD["holes"]
    return [(i, i), (i + a, i), (i, i + b), (i + a, i + b)]


def board_dxf(_, m):
    sides, quarter = board_sides(), math.tan(math.pi / 8)
    starts = [sides[-1][0], *(end for end, _ in sides[:-1])]
    points = [(*start, quarter * arc[1] if arc else 0) for start, (_, arc) in zip(starts, sides)]
    m.add_lwpolyline(points, format="xyb", close=True)
    for x, y in hole_places():
        m.add_circle((x, y), BOARD["hole_d"] / 2)
    return []


def board_svg():
    """Upside down, as SVG has it: y runs down, so a left turn is one of sweep 0."""
    (w, h), sides = BOARD["size"], board_sides()
    x, y = sides[-1][0]
    path = f"M{x} {h - y}"
    for (x, y), arc in sides:
        r = math.dist(arc[0], (x, y)) if arc else 0
        path += f"A{r} {r} 0 0 {0 if arc[1] > 0 else 1} {x} {h - y}" if arc else f"L{x} {h - y}"
    holes = "".join(f'<circle cx="{x}" cy="{h - y}" r="{BOARD["hole_d"] / 2}"/>' for x, y in hole_places())
    return (f'<svg xmlns="http://www.w3.org/2000/svg" width="{w}mm" height="{h}mm" viewBox="0 0 {w} {h}">'
            f'<g fill="none" stroke="black"><path d="{path}Z"/>{holes}</g></svg>')


def board_gerber():
    """Each side by itself and out of order, as programs for boards write them."""
    def at(point, code):
        return f"X{round(point[0] * 1e6)}Y{round(point[1] * 1e6)}{code}*"

    def arc(start, end, centre, way):
        i, j = (round((c - s) * 1e6) for c, s in zip(centre, start))
        return [at(start, "D02"), "G75*", f"G0{3 if way > 0 else 2}" + at(end, f"I{i}J{j}D01"), "G01*"]

    lines = ["%TF.FileFunction,Profile,NP*%", "%FSLAX46Y46*%", "%MOMM*%", "%LPD*%", "%ADD10C,0.100000*%", "D10*", "G01*"]
    sides = board_sides()
    starts = [sides[-1][0], *(end for end, _ in sides[:-1])]
    runs = [arc(s, e, *a) if a else [at(s, "D02"), at(e, "D01")] for s, (e, a) in zip(starts, sides)]
    for run in runs[1::2] + runs[::2]:
        lines += run
    d = BOARD["hole_d"] / 2
    for x, y in hole_places():
        lines += arc((x + d, y), (x + d, y), (x, y), 1)
    return "\n".join([*lines, "M02*"]) + "\n"


def board_area():
    (w, h), r, slot, d = BOARD["size"], BOARD["corner"], BOARD["slot"], BOARD["hole_d"]
    cut = slot["deep"] * (slot["to"] - slot["from"]) - 2 * (1 - math.pi / 4) * slot["corner"]**2
    return w * h - (4 - math.pi) * r * r - cut - math.pi * d * d


def check_board(count, args):
    truth, d = board_area(), BOARD["hole_d"]
    curved = 2 * math.pi * BOARD["corner"] + math.pi * BOARD["slot"]["corner"] + 4 * math.pi * d
    dxf_file(args.out / "board.dxf", board_dxf)
    (args.out / "board.svg").write_text(board_svg())
    (args.out / "board.gbr").write_text(board_gerber())
    for kind in ("svg", "dxf", "gbr"):
        found = captured(args.setapart, args.out / f"board.{kind}")["outlines"]
        shape = polygon(found[0])
        count.check(len(found) == 1 and len(shape.interiors) == 4, f"board as {kind}: one outline, four holes", BOARD_SOURCE)
        count.check(abs(shape.area - truth) <= curved * CHORD_MM, f"board as {kind}: area {shape.area:.3f}, {truth:.3f} mm2", GEOMETRY)
        left, low, right, high = shape.bounds
        size = (right - left, high - low)
        told = [s - JOB_LINE for s in JOB_SIZE]
        count.check(max(abs(a - b) for a, b in zip(size, told)) < 1e-6,
                    f"board as {kind}: {size[0]:.4f} x {size[1]:.4f} mm, {told[0]:.1f} x {told[1]:.1f}", BOARD_SOURCE)
        places = sorted((round(c.x, 3), round(c.y, 3)) for c in (Polygon(i).centroid for i in shape.interiors))
        count.check(places == sorted(hole_places()), f"board as {kind}: holes at {places}", BOARD_SOURCE)
        bores = [2 * math.sqrt(Polygon(i).area / math.pi) for i in shape.interiors]
        count.check(all(abs(b - d) <= 2 * CHORD_MM for b in bores), f"board as {kind}: bores {min(bores):.3f} to {max(bores):.3f}, {d} mm", BOARD_SOURCE)


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
