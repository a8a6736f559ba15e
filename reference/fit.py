"""Placings of one outline on another, and outlines of lines and arcs, against SciPy and Shapely.

    fit.py --setapart BINARY --out DIR

`fit`: shapes are measured twice (other points, noise), moved by a known turn and shift, and must come back to
0.02 mm and 0.02 degrees, or where noise on so few points allows no such thing to three times the bound of Cramer
and Rao; SciPy's Procrustes analysis, which is told which points belong together, gives the
same turn. What overhangs is computed again by Shapely on the placing that was found.
`capture --tidy`: the distance between lines and arcs and the measured outline, by Shapely on arcs that this
script draws itself.
"""
import json
import sys

import numpy as np
import scipy.spatial
import shapely
import shapely.affinity

import tally

BUILT = "built with this pose"
SHAPELY = "Shapely"
PROCRUSTES = "scipy.spatial.procrustes, corresponding points"
PLACE_MM, TURN_DEG = 0.02, 0.02     # asked for
NOISE_MM = 0.05                     # asked for: normal noise of one sigma 0.05 mm
AGREE_MM = 0.005                    # our depth against Shapely's, which looks in steps of this


def circle(x, y, r, n=180):
    t = np.arange(n) * 2 * np.pi / n
    return np.column_stack([x + r * np.cos(t), y + r * np.sin(t)])


def shapes():
    """Outlines by name: no symmetry, few, or all of it."""
    board = shapely.Polygon([(0, 0), (52, 0), (52, 20), (47, 20), (47, 26), (52, 26), (52, 34), (45, 38), (12, 38), (12, 33), (0, 33)],
                            [circle(6, 6, 1.6, 48), circle(40, 30, 2.0, 48)])
    shell = shapely.box(4, 4, 116, 61).buffer(4, quad_segs=64).difference(shapely.box(-1, 26, 3, 38))
    star = shapely.Polygon([(r * np.cos(a), r * np.sin(a)) for a, r in
                            ((2 * np.pi * k / 240, 18 + 3 * np.cos(3 * 2 * np.pi * k / 240) + 2 * np.sin(5 * 2 * np.pi * k / 240)) for k in range(240))])
    return {"board": board, "shell": shell, "star": star,
            "plate": shapely.box(0, 0, 60, 20), "square": shapely.box(0, 0, 25, 25)}


TURNS_ALIKE = {"plate": 180.0, "square": 90.0}


def measured(polygon, step, noise, dice):
    """The outline as another measurement sees it: points every `step` mm from a start of its own, with noise."""
    rings = []
    for ring in (polygon.exterior, *polygon.interiors):
        n = int(np.ceil(ring.length / step))
        along = (np.arange(n) + dice.random()) * ring.length / n
        points = shapely.get_coordinates(shapely.line_interpolate_point(ring, along % ring.length))
        if noise:
            points = points + dice.normal(0, noise, points.shape)
        rings.append(points)
    noisy = shapely.Polygon(rings[0], rings[1:])
    return noisy if noisy.is_valid else max(shapely.get_parts(noisy.buffer(0)), key=lambda p: p.area)


def outline_json(polygon):
    polygon = shapely.geometry.polygon.orient(polygon)
    return {"outer": shapely.get_coordinates(polygon.exterior)[:-1].tolist(),
            "holes": [shapely.get_coordinates(h)[:-1].tolist() for h in polygon.interiors]}


def moved(polygon, pose):
    """Turned about the origin, counter-clockwise, then shifted."""
    x, y, turn = pose
    return shapely.affinity.translate(shapely.affinity.rotate(polygon, turn, origin=(0, 0)), x, y)


def mirrored(polygon):
    left, _, right, _ = polygon.bounds
    return shapely.transform(polygon, lambda p: np.column_stack([left + right - p[:, 0], p[:, 1]]))


def fitted(args, a, b, *options):
    path = args.out / "fit.json"
    path.write_text(json.dumps({"captures": [{"outlines": [outline_json(a), outline_json(b)]}]}))
    return json.loads(tally.run(args.setapart, "fit", f"{path}#1", f"{path}#2", "--json", *options).stdout)


def depth_by_shapely(outline, other):
    """Greatest distance of any of the first polygon from the second: how far the second must grow to cover it."""
    low, high = 0.0, 200.0
    while high - low > 0.2 * AGREE_MM:
        middle = (low + high) / 2
        rest = outline.difference(other.buffer(middle, quad_segs=64)) if middle else outline.difference(other)
        low, high = (middle, high) if rest.area > 1e-9 else (low, middle)
    return high


def procrustes_turn_deg(source, target):
    """The turn that SciPy finds between corresponding points."""
    standard_target, fitted_source, _ = scipy.spatial.procrustes(target, source)
    # The routine gives the source as it lies on the target, both of standard size: its turn is what carries the
    # standardised source onto the fitted one.
    centred = source - source.mean(0)
    s = np.sum(centred[:, 0] * fitted_source[:, 1] - centred[:, 1] * fitted_source[:, 0])
    c = np.sum(centred * fitted_source)
    assert standard_target.shape == fitted_source.shape
    return np.degrees(np.arctan2(s, c))


def turn_error(found, truth, alike=360.0):
    return abs((found - truth + alike / 2) % alike - alike / 2)


def least_sigmas(polygon, *measurements):
    """The least errors (one sigma: mm at the centre, degrees) that any unbiased placing of two noisy measurements
    can have: the bound of Cramer and Rao. A measurement is (step, noise); only its noise across the edge tells."""
    centre, total = np.asarray(polygon.centroid.coords[0]), np.zeros((3, 3))
    for step, noise in measurements:
        if not noise:
            continue
        information = np.zeros((3, 3))
        for ring in (polygon.exterior, *polygon.interiors):
            along = np.arange(0, ring.length, step)
            before, after = (shapely.get_coordinates(shapely.line_interpolate_point(ring, (along + d) % ring.length)) for d in (0, 1e-4))
            normal = (after - before)[:, ::-1] * [1, -1] / 1e-4
            arm = before - centre
            rows = np.column_stack([normal, arm[:, 0] * normal[:, 1] - arm[:, 1] * normal[:, 0]])
            information += rows.T @ rows / noise**2
        total += np.linalg.inv(information)
    return np.sqrt(total[0, 0] + total[1, 1]), np.degrees(np.sqrt(total[2, 2]))


def limits(polygon, *measurements):
    """What is asked for, or three times what can be had where that is more."""
    mm, degrees = least_sigmas(polygon, *measurements)
    return max(PLACE_MM, 3 * mm), max(TURN_DEG, 3 * degrees)


def check_overhang(found, a, b, name, count):
    """Overhang, gap and areas of the placing that was found, computed again."""
    shown = mirrored(a) if found["flipped"] else a
    placed = moved(shown, (found["x"], found["y"], found["turn_deg"]))
    for key, one, other in (("overhang", placed, b), ("gap", b, placed)):
        depth, area = depth_by_shapely(one, other), one.difference(other).area
        count.check(abs(found[f"{key}_mm"] - depth) <= AGREE_MM, f"{name}: {key} {found[f'{key}_mm']:.4f} mm, Shapely {depth:.4f}", SHAPELY)
        count.check(abs(found[f"{key}_area_mm2"] - area) <= 1e-3 + 1e-5 * area, f"{name}: {key} area {found[f'{key}_area_mm2']:.4f} mm2, Shapely {area:.4f}", SHAPELY)
    return placed


def known_placings(args, count, dice):
    """Each shape at several turns, with and without noise, the part's face shown or its back."""
    worst = {False: [0.0, 0.0], True: [0.0, 0.0]}
    for name, polygon in shapes().items():
        for k, turn in enumerate((0.0, 33.3, 178.0, -95.5)):
            noise = NOISE_MM if k % 2 else 0.0
            flip = name in ("board", "shell", "star") and k >= 2
            truth = (40.0 * k - 60, 25.0 - 7 * k, turn)
            a = measured(polygon, 0.2, noise, dice)
            shown = mirrored(polygon) if flip else polygon
            b = moved(measured(shown, 0.13, noise, dice), truth)
            found = fitted(args, a, b, *(["--allow-flip"] if flip else []))
            label = f"{name} turned {turn}{', over' if flip else ''}, noise {noise}"
            # The pose is of the measured part; where it is turned over, about its own measured middle.
            middle = np.asarray(shown.centroid.coords[0])
            if flip:
                middle_measured = middle + [a.bounds[0] + a.bounds[2] - polygon.bounds[0] - polygon.bounds[2], 0]
            else:
                middle_measured = middle
            at = np.asarray(moved(shapely.Point(middle_measured), (found["x"], found["y"], found["turn_deg"])).coords[0])
            off = np.hypot(*(at - np.asarray(moved(shapely.Point(middle), truth).coords[0])))
            angle = turn_error(found["turn_deg"], turn, TURNS_ALIKE.get(name, 360.0))
            most_mm, most_deg = limits(polygon, (0.2, noise), (0.13, noise))
            worst[noise > 0] = [max(worst[noise > 0][0], off), max(worst[noise > 0][1], angle)]
            count.check(off <= most_mm and angle <= most_deg and found["flipped"] == flip,
                        f"{label}: off by {off:.4f} mm, {angle:.4f} degrees; limits {most_mm:.3f}, {most_deg:.3f}", BUILT)
            count.check(found["verdict"] == "fit" or noise > 0, f"{label}: {found['verdict']}", BUILT)
            if k < 2:
                check_overhang(found, a, b, label, count)
    for noisy, (off, angle) in worst.items():
        print(f"note  worst {'with noise' if noisy else 'without noise'}: {off:.4f} mm, {angle:.4f} degrees")


def against_procrustes(args, count, dice):
    """The same noisy points in both programs; only SciPy is told which belong together."""
    for name in ("board", "shell", "star"):
        source = shapely.get_coordinates(measured(shapely.Polygon(shapes()[name].exterior), 0.3, 0.0, dice).exterior)[:-1]
        target = shapely.get_coordinates(moved(shapely.Polygon(source), (12.0, -7.0, 71.0)).exterior)[:-1] + dice.normal(0, NOISE_MM, source.shape)
        noisy = shapely.Polygon(target)
        if not noisy.is_valid:
            count.skip(f"{name} against Procrustes", "noise made the ring cross itself")
            continue
        found = fitted(args, shapely.Polygon(source), noisy)
        turn = procrustes_turn_deg(source, target)
        most_mm, most_deg = limits(shapely.Polygon(source), (0.3, NOISE_MM))
        count.check(turn_error(found["turn_deg"], turn) <= most_deg,
                    f"{name}: turned {found['turn_deg']:.4f}, Procrustes {turn:.4f} degrees, limit {most_deg:.3f}", PROCRUSTES)
        at = np.asarray(moved(shapely.Point(source.mean(0)), (found["x"], found["y"], found["turn_deg"])).coords[0])
        off = np.hypot(*(at - target.mean(0)))
        count.check(off <= most_mm, f"{name}: mean of the points off by {off:.4f} mm, limit {most_mm:.3f}", PROCRUSTES)


def partial_differences(args, count, dice):
    """A tab more, a notch less, a hole less: the rest still decides."""
    board = shapes()["board"]
    cases = {
        "added tab": (board.union(shapely.box(50, 8, 55, 12)), "trim"),
        "missing notch": (board.union(shapely.box(46, 19, 52, 27)), "trim"),
        "missing hole": (shapely.Polygon(board.exterior, board.interiors[:1]), "trim"),
        "corner cut off": (board.difference(shapely.box(-1, -1, 8, 3)), "fit"),
    }
    for name, (donor, verdict) in cases.items():
        for noise in (0.0, 0.03):
            truth = (15.0, -40.0, 128.0)
            a, b = measured(donor, 0.2, noise, dice) if noise else donor, moved(measured(board, 0.15, noise, dice) if noise else board, truth)
            found = fitted(args, a, b)
            middle = shapely.Point(board.centroid)
            off = moved(middle, (found["x"], found["y"], found["turn_deg"])).distance(moved(middle, truth))
            angle = turn_error(found["turn_deg"], truth[2])
            label = f"{name}, noise {noise}"
            count.check(off <= PLACE_MM and angle <= TURN_DEG, f"{label}: off by {off:.4f} mm, {angle:.4f} degrees", BUILT)
            count.check(found["verdict"] == verdict, f"{label}: {found['verdict']}, expected {verdict}", BUILT)
            check_overhang(found, a, b, label, count)


def arc_points(start, end, bulge, chord_mm=0.0002):
    """Points of one side by the definition of the bulge, the end left out."""
    start, end = np.asarray(start), np.asarray(end)
    if bulge == 0:
        return [start]
    angle = 4 * np.arctan(bulge)
    chord = end - start
    radius = np.hypot(*chord) / 2 / abs(np.sin(angle / 2))
    left = np.array([-chord[1], chord[0]]) / np.hypot(*chord)
    centre = (start + end) / 2 + left * np.hypot(*chord) / 2 / np.tan(angle / 2)
    n = max(2, int(np.ceil(abs(angle) / (2 * np.arccos(1 - min(1.0, chord_mm / radius))))))
    t = np.arange(n) / n * angle
    v = start - centre
    return list(centre + np.column_stack([np.cos(t) * v[0] - np.sin(t) * v[1], np.sin(t) * v[0] + np.cos(t) * v[1]]))


def drawn(exact):
    """Lines and arcs as a polygon of Shapely."""
    def ring(points):
        return [p for (x, y, b), (u, v, _) in zip(points, points[1:] + points[:1]) for p in arc_points((x, y), (u, v), b)]
    return shapely.Polygon(ring(exact["outer"]), [ring(h) for h in exact["holes"]])


def tidied_captures(args, count):
    """The demo's boards as measured and as lines and arcs."""
    photo = tally.ROOT / "tests/data/demo/2-boards.jpg"
    read = lambda *more: json.loads(tally.run(args.setapart, "capture", photo, "--thickness", "1.6", "--json", *more).stdout)["captures"][0]["outlines"]
    as_measured = [shapely.Polygon(o["outer"], o["holes"]) for o in read("--tidy", "0")]
    for tolerance in (0.02, 0.05, 0.2):
        tidy = read("--tidy", str(tolerance))
        count.check(len(tidy) == len(as_measured), f"tidy {tolerance}: {len(tidy)} outlines", "as many as measured")
        for k, (o, m) in enumerate(zip(tidy, as_measured)):
            exact = drawn(o["exact"])
            polygon = shapely.Polygon(o["outer"], o["holes"])
            sides = sum(map(len, [o["exact"]["outer"], *o["exact"]["holes"]]))
            points = shapely.get_num_coordinates(m)
            apart = max(ring_distance(a, b) for a, b in zip((exact.exterior, *exact.interiors), (m.exterior, *m.interiors)))
            label = f"tidy {tolerance}, outline {k + 1}: {points} points, {sides} sides"
            count.check(apart <= tolerance + 5e-4, f"{label}: {apart:.4f} mm from what was measured", SHAPELY)
            count.check(abs(apart - o["tidy"]["reached_mm"]) <= 0.004, f"{label}: told {o['tidy']['reached_mm']:.4f} mm", SHAPELY)
            count.check(exact.is_valid and polygon.is_valid, f"{label}: nothing crosses", SHAPELY)
            chords = shapely.hausdorff_distance(exact.boundary, polygon.boundary, densify=0.01)
            count.check(chords <= 0.0055, f"{label}: the polygon beside it is off by {chords:.4f} mm, limit 0.005", SHAPELY)


def ring_distance(a, b):
    """Distance both ways between two closed lines, at points every 0.01 mm."""
    def far(one, other):
        points = shapely.line_interpolate_point(one, np.arange(0, one.length, 0.01))
        points = np.concatenate([points, shapely.points(shapely.get_coordinates(one))])
        shapely.prepare(other)
        return shapely.distance(points, other).max()
    a, b = shapely.LineString(a), shapely.LineString(b)
    return max(far(a, b), far(b, a))


def main():
    args = tally.arguments(__doc__).parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    count, dice = tally.Tally(), np.random.default_rng(20240917)
    known_placings(args, count, dice)
    against_procrustes(args, count, dice)
    partial_differences(args, count, dice)
    tidied_captures(args, count)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
