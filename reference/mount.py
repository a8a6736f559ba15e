"""Build plans checked by other programs: Shapely for fills, beads and tape, networkx for the critical path.

    mount.py --setapart BINARY [--out DIR]

Pieces are made here: shells and plates with holes, notches and bosses at known places, seeds fixed, and the demo's
piece where the command was run before. What `mount --json` says of them is worked out again:

- fills: Shapely's own inset of the wall, cut and opened, has the same area; and none leaves its shell;
- beads, dots and tape: buffered to their pressed width they lie inside the part;
- perimeter beads: their centre lines lie on Shapely's inset of the outline;
- doses: the bead's section times its length by Shapely;
- depth: the sum of the layers; stress: shear of a bead group by its own sums with NumPy;
- steps: networkx says the order is one, and how long the longest way is; hands and clamps are counted.
"""
import json
import math
import os
import sys
from pathlib import Path

import networkx
import numpy as np
import shapely
import shapely.affinity

import tally

SHAPELY, NETWORKX, NUMPY, BY_HAND = "Shapely", "networkx", "NumPy", "by hand"
WALL_MM, CLEAR_MM, OPENING_MM, WIDTH_MM, MARGIN_MM = 1.6, 0.5, 1.5, 6.0, 1.0
# Outlines may be made lean by 0.02 mm, chords are off by up to 0.005 mm.
LEAN_MM = 0.03


def disc(x, y, r):
    return shapely.Point(x, y).buffer(r, quad_segs=32)


def ring(coordinates):
    return [list(map(float, p)) for p in list(coordinates)[:-1]]


def outline(polygon):
    return {"outer": ring(polygon.exterior.coords), "holes": [ring(h.coords) for h in polygon.interiors]}


def polygon_of(o):
    return shapely.Polygon(o["outer"], o.get("holes", []))


def shells(dice):
    """Parts with a wall, an inside, a window and bosses at random places."""
    for k in range(6):
        w, h = dice.uniform(45, 90), dice.uniform(60, 120)
        body = shapely.box(6, 6, w - 6, h - 6).buffer(6, quad_segs=24)
        window = shapely.box(0.25 * w, 0.5 * h, 0.75 * w, 0.75 * h)
        body = body.difference(window).difference(disc(0.4 * w, 0.25 * h, dice.uniform(2, 8)))
        bosses = [disc(x, y, 2.6) for x, y in ((8, 8), (w - 8, 9), (0.5 * w, h - 9))]
        yield {"id": f"shell{k}", "name": f"Shell {k}", "kind": "shell", "outline": outline(body), "thickness_mm": 12.0,
               "mass_g": 20.0, "back_face": "abs", "wall_mm": WALL_MM, "inner_depth_mm": float(round(dice.uniform(5, 10), 1)),
               "bosses": [{"outline": outline(b)} for b in bosses]}


def plates(dice):
    for k, face in enumerate(("fr4", "stainless", "glass", "polyimide", "copper", "abs")):
        w, h = dice.uniform(12, 80), dice.uniform(10, 60)
        body = shapely.box(0, 0, w, h).difference(shapely.box(0.6 * w, 0.7 * h, w + 1, h + 1)).difference(disc(0.3 * w, 0.4 * h, 0.1 * h))
        yield {"id": f"plate{k}", "name": f"Plate {k}", "kind": "ribbon" if face == "polyimide" else "board", "outline": outline(body),
               "thickness_mm": float(round(dice.uniform(0.3, 6), 1)), "mass_g": float(round(dice.uniform(1, 60), 1)), "back_face": face}


def piece_of(parts, name):
    placements = [{"part": p["id"], "x": 30.0 + 130 * (k % 4), "y": 40.0 + 140 * (k // 4), "turn_deg": float(90 * (k % 4))}
                  for k, p in enumerate(parts)]
    return {"format": "setapart-piece", "version": 1, "name": name,
            "frame": {"size_mm": [700.0, 700.0], "lip_mm": 6.0, "board_clearance_mm": 2.0, "rebate_depth_mm": 40.0,
                      "margin_mm": {"left": 12, "right": 12, "top": 12, "bottom": 18}, "spacer_width_mm": 5.0, "glazing": "float-2"},
            "parts": parts, "placements": placements}


def opened(shape, width):
    return shape.buffer(-width / 2, quad_segs=64).buffer(width / 2, quad_segs=64).intersection(shape)


def fill_by_shapely(part):
    whole = shapely.Polygon(part["outline"]["outer"])
    inside = whole.buffer(-(WALL_MM + CLEAR_MM), quad_segs=64)
    left_out = [shapely.Polygon(h) for h in part["outline"]["holes"]] + [polygon_of(b["outline"]) for b in part["bosses"]]
    for hole in left_out:
        inside = inside.difference(hole.buffer(OPENING_MM, quad_segs=64))
    kept = [p for p in shapely.get_parts(opened(inside, WIDTH_MM)) if p.area >= WIDTH_MM**2]
    largest = max((p.area for p in kept), default=0)
    return shapely.union_all([p for p in kept if p.area >= 0.05 * largest])


def check_fills(plan, parts, found):
    for part in parts.values():
        fills = [polygon_of(s) for s in plan["supports"] if s["part"] == part["id"] and s["kind"] == "fill"]
        if "wall_mm" not in part or not fills:
            continue
        mine, theirs = shapely.union_all(fills), fill_by_shapely(part)
        apart = mine.symmetric_difference(theirs).area
        found.check(apart <= LEAN_MM * 2 * theirs.length, f"{part['id']}: fill of {mine.area:.0f} mm2, off by {apart:.2f} mm2", SHAPELY)
        out = mine.difference(polygon_of(part["outline"])).area
        found.check(out < 1e-6, f"{part['id']}: no part of the fill lies outside the shell ({out:.1e} mm2)", SHAPELY)
        stack, height = sum(plan_of(plan, part["id"])["layers_mm"]), plan_of(plan, part["id"])["height_mm"]
        found.check(0.9 * stack - 1e-9 <= height <= stack + 1e-9, f"{part['id']}: a stack of {stack} mm is pressed to {height:.1f} mm", BY_HAND)


def plan_of(plan, part):
    return next(s for s in plan["supports"] if s["part"] == part)


def check_bonds(plan, parts, found):
    worst, doses, off_line, bonds = 0.0, 0.0, 0.0, 0
    for bond in plan["bonds"]:
        supports = [polygon_of(s) for s in plan["supports"] if s["part"] == bond["part"]]
        face = shapely.union_all(supports) if supports else polygon_of(parts[bond["part"]]["outline"])
        bonds += 1
        if bond["apply_as"] == "bead":
            lines = [shapely.LineString(p) for p in bond["paths"]]
            pressed = shapely.union_all([line.buffer(bond["spread_mm"] / 2 + MARGIN_MM - 0.01, quad_segs=32) for line in lines])
            worst = max(worst, pressed.difference(face).area)
            millilitres = 1.2 if "silicone" in bond["adhesive"] else None
            if millilitres:
                section = math.pi * bond["bead_mm"] ** 2 / 4 / 1000
                doses = max(doses, abs(sum(line.length for line in lines) * section * millilitres - bond["dose_ml"]))
            inset = face.buffer(-(bond["spread_mm"] / 2 + MARGIN_MM), quad_segs=64)
            for line in lines[:bond["perimeter_paths"]]:
                off_line = max(off_line, max(inset.boundary.distance(shapely.Point(p)) for p in line.coords))
        for dot in bond["dots"]:
            worst = max(worst, shapely.Point(dot).buffer(bond["spread_mm"] / 2).difference(face).area)
        for tape in bond["tapes"]:
            worst = max(worst, shapely.Polygon(tape["outer"]).difference(face).area)
    found.check(worst < 1e-6, f"{bonds} bonds: pressed adhesive leaves its face by {worst:.1e} mm2", SHAPELY)
    found.check(off_line < 0.05, f"perimeter beads lie within {off_line:.3f} mm of the inset outline", SHAPELY)
    found.check(doses < 1e-6, f"doses of silicone are off by {doses:.1e} ml", SHAPELY)


def check_shear(plan, parts, found):
    """Shear in a straight-sided bead group, worked out again from thousands of small areas."""
    worst = 0.0
    for bond in plan["bonds"]:
        shear = next(load for load in bond["loads"] if load["load"] == "shear")
        if bond["apply_as"] != "bead" or bond["joint"] != "part_to_board":
            continue
        part = parts[bond["part"]]
        at, corners = [], []
        for path in bond["paths"]:
            for a, b in zip(np.array(path[:-1]), np.array(path[1:])):
                length = np.linalg.norm(b - a)
                if length == 0:
                    continue
                u = (b - a) / length
                n = np.array([-u[1], u[0]])
                s, t = np.meshgrid((np.arange(16) + 0.5) / 16, (np.arange(16) + 0.5) / 16 - 0.5)
                cells = a + s.reshape(-1, 1) * (b - a) + t.reshape(-1, 1) * bond["spread_mm"] * n
                at.append(np.column_stack([cells, np.full(len(cells), length * bond["spread_mm"] / 256)]))
                corners += [a + n * bond["spread_mm"] / 2, a - n * bond["spread_mm"] / 2, b + n * bond["spread_mm"] / 2, b - n * bond["spread_mm"] / 2]
        cells = np.concatenate(at)
        area = cells[:, 2].sum()
        middle = (cells[:, :2] * cells[:, 2:]).sum(axis=0) / area
        polar = (((cells[:, :2] - middle) ** 2).sum(axis=1) * cells[:, 2]).sum()
        place = next(p for p in plan["_placements"] if p["part"] == bond["part"])
        turn = math.radians(-place["turn_deg"])
        weight = part["mass_g"] / 1000 * 9.80665
        force = weight * np.array([math.sin(turn), -math.cos(turn)])
        centre = np.array(polygon_of(part["outline"]).centroid.coords[0])
        moment = np.cross(np.append(centre - middle, 0), np.append(force, 0))[2]
        r = np.array(corners) - middle
        stress = force / area + moment / polar * np.column_stack([-r[:, 1], r[:, 0]])
        by_numpy = np.linalg.norm(stress, axis=1).max()
        worst = max(worst, abs(by_numpy - shear["acts"]) / by_numpy)
    found.check(worst < 0.01, f"shear in bead groups agrees within {100 * worst:.2f} %", NUMPY)


def check_depth(plan, found):
    depth = plan["depth"]
    layers = {kind: sum(layer["thickness_mm"] for layer in depth["layers"] if layer["kind"] == kind) for kind in {layer["kind"] for layer in depth["layers"]}}
    tallest = max(p["top_mm"] for p in depth["parts"])
    needed = layers["glazing"] + 5.0 + tallest + layers["board"] + layers["backing"]
    found.check(0 <= depth["needed_mm"] - needed < 0.1, f"{depth['needed_mm']} mm of depth, {needed:.2f} by the layers", BY_HAND)
    found.check(all(abs(p["top_mm"] + p["clearance_mm"] - depth["inside_mm"]) < 1e-6 for p in depth["parts"]), "top and clearance make the inside", BY_HAND)


def check_steps(plan, found):
    steps = {s["id"]: s for s in plan["steps"]}
    graph = networkx.DiGraph()
    graph.add_nodes_from(steps)
    for s in plan["steps"]:
        graph.add_edges_from((a, s["id"], {"weight": steps[a]["minutes"]}) for a in s["after"])
    found.check(networkx.is_directed_acyclic_graph(graph), f"{len(steps)} steps wait for each other in no circle", NETWORKX)
    graph.add_node("end")
    graph.add_edges_from((i, "end", {"weight": s["minutes"]}) for i, s in steps.items())
    longest = networkx.dag_longest_path_length(graph, weight="weight")
    found.check(abs(longest - plan["critical_minutes"]) < 1e-6, f"critical path of {plan['critical_minutes']:.1f} min", NETWORKX)
    late = [s["id"] for s in plan["steps"] for a in s["after"] if steps[a]["end_minute"] > s["start_minute"] + 1e-6]
    found.check(not late, f"no step starts before what it waits for {late[:3]}", BY_HAND)
    busiest = max(sum(1 for t in plan["steps"] if t["hands_on_minutes"] > 0 and t["start_minute"] <= s["start_minute"] < t["end_minute"])
                  for s in plan["steps"] if s["minutes"] > 0)
    found.check(busiest <= 1, "one pair of hands does one thing at a time", BY_HAND)
    clamps = max(sum(t["clamps"] for t in plan["steps"] if t["start_minute"] <= s["start_minute"] < t["end_minute"]) for s in plan["steps"])
    found.check(clamps <= 8, f"{clamps} of 8 clamps at most", BY_HAND)


def check_safety(plan, parts, found):
    cells = [p for p in parts.values() if p["kind"] == "cell" or "lithium_cell" in p.get("hazards", [])]
    for cell in cells:
        first = next(s for s in plan["steps"] if cell["id"] in s["parts"])
        found.check(any(c["code"] == "cell" for c in first["cautions"]), f"{cell['id']}: its first step, {first['id']}, has its caution", BY_HAND)
        told = [s["code"] for s in plan["steps"] if cell["id"] in s["parts"]]
        found.check(not {"step.trim", "step.free-cutting-leads", "step.free-desoldering", "step.free-warm-air"} & set(told), f"{cell['id']}: nobody is told to cut or heat it", BY_HAND)


def run(found, binary, piece):
    done = tally.run(binary, "mount", "--json", stdin=json.dumps(piece))
    plan = json.loads(done.stdout)
    plan["_placements"] = piece["placements"]
    parts = {p["id"]: p for p in piece["parts"]}
    print(f"-- {piece['name']}")
    if not piece.get("device"):
        check_fills(plan, parts, found)
        check_shear(plan, parts, found)
    check_bonds(plan, parts, found)
    check_depth(plan, found)
    check_steps(plan, found)
    check_safety(plan, parts, found)


def main():
    args = tally.arguments(__doc__.splitlines()[0]).parse_args()
    found = tally.Tally()
    dice = np.random.default_rng(7)
    run(found, args.setapart, piece_of(list(shells(dice)), "Six shells"))
    run(found, args.setapart, piece_of(list(plates(dice)), "Six plates"))
    demo = Path(os.environ.get("SETAPART_DEMO_OUT", "")) / "piece.json"
    if demo.is_file():
        run(found, args.setapart, json.loads(demo.read_text()))
    else:
        found.skip("the demo's piece", "the demo was not run")
    return found.close()


if __name__ == "__main__":
    sys.exit(main())
