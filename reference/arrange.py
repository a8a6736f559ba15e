"""Layouts measured by other programs: Graphviz on the same boxes, Shapely on the outlines, HiGHS on the captions.

    arrange.py --setapart BINARY [--out DIR] [--devices N]

Graphviz (Debian's package graphviz) and a picture are for the first N of the 200 devices of devices.py: 10, or all with
SETAPART_LONG set. Where neato is not installed, its checks count as skipped. Definitions:

- start: the layers pulled out along x by 0.6 of the device's width each;
- flipped: pairs of box centres whose order on x or on y changed, each axis counted, over n(n-1); centres nearer than
  1e-6 mm are in no order;
- moved: mean distance of each centre from the start after the best uniform scaling and shift of the start;
- window: the box round neato's vpsc result whose centres were scaled by the least factor at which no boxes overlap.
"""
import concurrent.futures
import itertools
import json
import math
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import numpy as np
import shapely
import shapely.ops

import devices
import outlines
import tally

GRAPHVIZ, SHAPELY, HIGHS = "Graphviz neato", "Shapely", "HiGHS (scipy.optimize.milp)"
GAP_MM = 4.0
# Graphviz rounds boxes to whole points; drawn this much larger, that is nothing.
LARGER = 32
POINT_MM = 25.4 / 72 / LARGER
TIE_MM = 1e-6


def flipped(start, end):
    """Share of n(n-1) ordered pairs whose order on an axis changed."""
    n, flips = len(start), 0
    for axis in (0, 1):
        was = start[:, None, axis] - start[None, :, axis]
        now = end[:, None, axis] - end[None, :, axis]
        flips += np.sum(np.triu((was * now < 0) & (abs(was) > TIE_MM) & (abs(now) > TIE_MM), 1))
    return float(flips) / (n * (n - 1))


def moved(start, end):
    """Mean distance from the start as it fits best by one scale for both axes and a shift, mm."""
    s, e = start - start.mean(axis=0), end - end.mean(axis=0)
    scale = np.sum(s * e) / np.sum(s * s)
    return float(np.linalg.norm(e - scale * s, axis=1).mean())


def boxes_overlap(centres, sizes, slack=0.01):
    apart = np.abs(centres[:, None] - centres[None]) - (sizes[:, None] + sizes[None]) / 2
    return bool(np.triu((apart < -slack).all(axis=2), 1).any())


def box_around(centres, sizes):
    low, high = (centres - sizes / 2).min(axis=0), (centres + sizes / 2).max(axis=0)
    return high - low


def neato(boxes, overlap, gap_mm=GAP_MM):
    """Centres after Graphviz removed the overlaps. `sep` grows each box on all its sides, so it is half the gap."""
    lines = [f'graph g {{ sep="+{gap_mm / 2 / POINT_MM:.4f}"; node [shape=box, fixedsize=true, label=""];']
    for k, (x, y, w, h) in enumerate(boxes):
        lines.append(f'n{k} [pos="{x / POINT_MM:.4f},{y / POINT_MM:.4f}", width={LARGER * w / 25.4:.6f}, height={LARGER * h / 25.4:.6f}];')
    text = "\n".join(lines) + "\n}\n"
    done = subprocess.run(["neato", "-n", f"-Goverlap={overlap}", "-Tjson0"], input=text, capture_output=True, text=True, check=True)
    found = {o["name"]: o["pos"] for o in json.loads(done.stdout)["objects"]}
    return np.array([[float(v) * POINT_MM for v in found[f"n{k}"].split(",")] for k in range(len(boxes))])


def window_of(centres, sizes):
    """The box round centres scaled by the least factor at which no two boxes overlap, and that factor."""
    low, high = 1.0, 1.0
    while boxes_overlap(centres * high, sizes):
        low, high = high, high * 1.25
        if high > 100:
            break
    if high > 1.0:
        for _ in range(30):
            middle = (low + high) / 2
            low, high = (middle, high) if boxes_overlap(centres * middle, sizes) else (low, middle)
    return box_around(centres * high, sizes), high


def arrange_with(binary, piece, *options):
    """The arranged piece and the seconds it took."""
    start = time.monotonic()
    done = tally.run(binary, "arrange", *options, stdin=json.dumps(piece))
    return json.loads(done.stdout), time.monotonic() - start


def shown_outlines(piece):
    parts = {p["id"]: p for p in piece["parts"]}
    return {p["part"]: outlines.on_board(parts[p["part"]], p) for p in piece["placements"]}


def worst_overlap(shown):
    names, shapes = list(shown), list(shown.values())
    tree = shapely.STRtree(shapes)
    worst = 0.0
    for i, j in tree.query(shapes, predicate="intersects").T:
        if i < j:
            worst = max(worst, shapes[i].intersection(shapes[j]).area)
    return worst


def demo_parts():
    """The demo's parts where the command was run before, as generated devices are; else none."""
    path = Path(os.environ.get("SETAPART_DEMO_OUT", "")) / "piece.json"
    return json.loads(path.read_text())["parts"] if path.is_file() else None


def compare_one(binary, seed, parts=None):
    """A row of the table for one device."""
    parts = parts or devices.device(seed)
    boxes = np.array(devices.exploded_boxes(parts))
    start, sizes = boxes[:, :2], boxes[:, 2:]
    row = {"seed": seed, "parts": len(parts)}
    for overlap in ("prism", "vpsc"):
        end = neato(boxes, overlap)
        row[overlap] = {"flipped": flipped(start, end), "moved": moved(start, end), "area": float(np.prod(box_around(end, sizes))) / 100,
                        "overlaps": boxes_overlap(end, sizes)}
        if overlap == "vpsc":
            window, row["scaled"] = window_of(end, sizes)
    piece = devices.piece(parts, f"Device {seed}", window + 1e-6, GAP_MM, bare=True)
    try:
        found, seconds = arrange_with(binary, piece, "--no-captions")
    except RuntimeError as error:
        row["error"] = str(error)
        return row
    shown = shown_outlines(found)
    bounds = np.array([shown[p["id"]].bounds for p in parts])
    end = (bounds[:, :2] + bounds[:, 2:]) / 2
    row["ours"] = {"flipped": flipped(start, end), "moved": moved(start, end), "area": float(np.prod(window)) / 100,
                   "overlap_mm2": worst_overlap(shown), "seconds": seconds,
                   "inside": bool((bounds[:, :2] >= -1e-6).all() and (bounds[:, 2:] <= window + 1e-5).all())}
    limit = max(row["vpsc"]["flipped"] / 2, 0.002)
    row["order_ok"] = bool(row["ours"]["flipped"] <= limit)
    row["moved_ok"] = bool(row["ours"]["moved"] <= row["vpsc"]["moved"])
    return row


def table(rows):
    head = f"{'seed':>4} {'n':>3} | {'prism: flip %':>13} {'moved':>6} {'cm2':>6} | {'vpsc: flip %':>12} {'moved':>6} {'cm2':>6} {'lap':>4} {'scale':>5} | {'ours: flip %':>12} {'moved':>6} {'cm2':>6} {'s':>5} {'ok':>5}"
    lines = [head, "-" * len(head)]
    for r in rows:
        p, v, o = r["prism"], r["vpsc"], r.get("ours")
        text = f"{r['seed']:>4} {r['parts']:>3} | {100 * p['flipped']:>13.2f} {p['moved']:>6.1f} {p['area']:>6.0f} | "
        text += f"{100 * v['flipped']:>12.2f} {v['moved']:>6.1f} {v['area']:>6.0f} {'yes' if v['overlaps'] else 'no':>4} {r['scaled']:>5.2f} | "
        if o:
            text += f"{100 * o['flipped']:>12.2f} {o['moved']:>6.1f} {o['area']:>6.0f} {o['seconds']:>5.1f} {('o' if r['order_ok'] else '-') + ('m' if r['moved_ok'] else '-'):>5}"
        else:
            text += f"no layout: {r['error'][:60]}"
        lines.append(text)
    return "\n".join(lines)


def check_graphviz(count, args):
    if shutil.which("neato") is None:
        count.skip(f"{args.devices} devices beside prism and vpsc", "Graphviz is not installed (Debian: graphviz)")
        return
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        rows = list(pool.map(lambda seed: compare_one(args.setapart, seed), range(args.devices)))
    demo = demo_parts()
    demo = compare_one(args.setapart, "demo", demo) if demo else None
    text = table(rows + ([demo] if demo else []))
    print(text)
    (args.out / "arrange-graphviz.txt").write_text(text + "\n")
    (args.out / "arrange-graphviz.json").write_text(json.dumps(rows, indent=1))
    least = math.floor(0.95 * len(rows))
    both = sum(bool(r.get("order_ok") and r.get("moved_ok")) for r in rows)
    count.check(both >= least, f"in vpsc's window: at most half its flips (or 0.2 %) and no more movement on {both} of {len(rows)}, asked {least}", GRAPHVIZ)
    if demo:
        count.check(demo.get("order_ok") and demo.get("moved_ok"), "the demo in vpsc's window: at most half its flips and no more movement", GRAPHVIZ)
    else:
        count.skip("the demo beside prism and vpsc", "SETAPART_DEMO_OUT has no piece.json")
    rows = rows + ([demo] if demo else [])
    bad = [r["seed"] for r in rows if r.get("ours", {}).get("overlap_mm2", 0) > 0 or not r.get("ours", {}).get("inside", True)]
    count.check(not bad, f"no outlines overlap and all lie in the window ({bad or len(rows)})", SHAPELY)


# ---- captions ----

def frame_for(parts):
    """A frame with room for the parts: the least of a series whose field has 3.2 times their area."""
    area = sum(shapely.Polygon(p["outline"]["outer"], p["outline"]["holes"]).area for p in parts)
    for w, h in [(300, 400), (400, 500), (500, 600), (500, 700), (600, 800), (700, 900), (800, 1000), (900, 1200)]:
        if w * h > 3.2 * area:
            return [w, h]
    return [1000, 1400]


def caption_faults(piece, shown):
    """Crossings of leaders, leaders over foreign parts, and captions on captions or parts."""
    boxes = [(c, shapely.box(c["x"], c["y"], c["x"] + c["w"], c["y"] + c["h"])) for c in piece["captions"]]
    leaders = [(c, shapely.LineString(c["leader"])) for c in piece["captions"] if len(c["leader"]) > 1]
    crossings = sum(a[1].intersects(b[1]) for a, b in itertools.combinations(leaders, 2))
    over = sum(line.intersects(p) for c, line in leaders for part, p in shown.items() if part != c["part"])
    over += sum(line.intersects(box) for c, line in leaders for d, box in boxes if d is not c)
    overlaps = sum(a[1].intersection(b[1]).area > 0 for a, b in itertools.combinations(boxes, 2))
    overlaps += sum(box.intersects(p) for _, box in boxes for p in shown.values())
    return crossings, over, overlaps


def lay_out(binary, seed):
    parts = devices.device(seed)
    piece = devices.piece(parts, f"Device {seed}", frame_for(parts), GAP_MM)
    found, seconds = arrange_with(binary, piece)
    return found, seconds


def check_devices(count, args):
    """Every device in a frame with captions; returns the pieces for the contact sheet."""
    with concurrent.futures.ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda seed: lay_out(args.setapart, seed), range(args.devices)))
    overlap, crossings, over, overlaps, missing, led = 0.0, 0, 0, 0, 0, 0
    for piece, _ in found:
        shown = shown_outlines(piece)
        overlap = max(overlap, worst_overlap(shown))
        a, b, c = caption_faults(piece, shown)
        crossings, over, overlaps = crossings + a, over + b, overlaps + c
        led += sum(bool(c["leader"]) for c in piece["captions"])
        named = {c["text"].split(" (")[0].replace("\n", " ") for c in piece["captions"]}
        missing += sum(p["name"] not in named and p["kind"] != "screw" for p in piece["parts"])
    n = len(found)
    count.check(overlap == 0.0, f"{n} devices in frames: no outlines overlap ({overlap:.3g} mm2)", SHAPELY)
    count.check(crossings == 0 and over == 0, f"{n} devices: {led} leaders, {crossings} crossings, {over} over what is not theirs", SHAPELY)
    count.check(overlaps == 0, f"{n} devices: {overlaps} caption overlaps", SHAPELY)
    print(f"note  captions left out: {missing}; slowest arranging {max(s for _, s in found):.1f} s")
    return [piece for piece, _ in found]


# ---- leaders against an integer program ----

def crowded(seed):
    """Twelve pinned parts in two rows back to back, each narrower than its caption, so that most captions need leaders."""
    dice = devices.Dice(1000 + seed)
    parts, placements = [], []
    names = ["Lens", "Main board", "Motor", "Display ribbon", "Speaker"]
    for row in range(2):
        x = 90.0
        for k in range(6):
            w, h = dice.between(9, 17), dice.between(34, 52)
            shape = devices.rounded(0, 0, w, h, 2)
            part = devices.part_of(f"p{6 * row + k + 1}", f"{names[dice.below(5)]} {6 * row + k + 1}", "other", 0, shape)
            y = 140.0 if row == 0 else 138.5 - h
            parts.append(part)
            placements.append({"part": part["id"], "x": round(x, 4), "y": round(y, 4), "turn_deg": 0, "pinned": True})
            x += w + dice.between(1.5, 3.0)
    piece = devices.piece(parts, f"Crowd {seed}", (290, 290), 1.0)
    piece["placements"] = placements
    return piece


def leader_of(box, polygon, foreign):
    """The shortest straight line from the middle of a box's side 1.5 mm into a part that crosses nothing foreign."""
    x0, y0, x1, y1 = box
    c = ((x0 + x1) / 2, (y0 + y1) / 2)
    best = None
    inner = polygon.buffer(-1.5)
    for anchor in [(x0, c[1]), (x1, c[1]), (c[0], y0), (c[0], y1)]:
        a = shapely.Point(anchor)
        b = shapely.ops.nearest_points(inner, a)[0] if not inner.is_empty else polygon.centroid
        line = shapely.LineString([a, b])
        mid = line.interpolate(1e-3)
        if x0 < mid.x < x1 and y0 < mid.y < y1:
            continue
        if best is not None and line.length >= best.length:
            continue
        if any(line.distance(f) <= 0.5 for f in foreign):
            continue
        best = line
    return best


def optimum(piece, led, beside, shown, step=1.5, most=150):
    """Least total leader length of the captions `led`, those `beside` their parts left where they are, by integer program:
    each takes a place of a grid or its own; whether more places could lower it is told too."""
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    window, _ = outlines.window_and_field(piece["frame"])
    s = piece["frame"]["spacer_width_mm"] + 2
    sheet = (s, s, window.bounds[2] - s, window.bounds[3] - s)
    parts = list(shown.items())
    tree = shapely.STRtree([p for _, p in parts])
    places, owner = [], []
    cut_off = []
    others = [shapely.box(c["x"], c["y"], c["x"] + c["w"], c["y"] + c["h"]) for c in beside]
    beside_tree = shapely.STRtree(others)
    for c in led:
        polygon = shown[c["part"]]
        foreign = [p for part, p in parts if part != c["part"]]
        corners = [(x, y) for x in np.arange(sheet[0], sheet[2] - c["w"], step) for y in np.arange(sheet[1], sheet[3] - c["h"], step)]
        near = sorted(corners, key=lambda p: polygon.distance(shapely.box(p[0], p[1], p[0] + c["w"], p[1] + c["h"])))
        mine = []
        for x, y in near:
            box = shapely.box(x, y, x + c["w"], y + c["h"])
            if mine and len(mine) >= most and polygon.distance(box) > sorted(p[0] for p in mine)[most - 1]:
                break
            if len(tree.query(box, predicate="dwithin", distance=1.0)) or len(beside_tree.query(box, predicate="dwithin", distance=1.0)):
                continue
            line = leader_of((x, y, x + c["w"], y + c["h"]), polygon, foreign + others)
            if line is not None:
                mine.append((line.length, box, line))
        mine.sort(key=lambda p: p[0])
        cut_off.append(mine[most][0] if len(mine) > most else math.inf)
        line = shapely.LineString(c["leader"])
        own = (line.length, shapely.box(c["x"], c["y"], c["x"] + c["w"], c["y"] + c["h"]), line)
        places += [own] + mine[:most]
        owner += [c["part"]] * len(mine[:most] + [own])
    n = len(places)
    rows, cols, low, high = [], [], [], []
    names = list(dict.fromkeys(owner))
    r = 0
    for name in names:
        for k in range(n):
            if owner[k] == name:
                rows.append(r), cols.append(k)
        low.append(1), high.append(1)
        r += 1
    boxes = np.array([p[1] for p in places])
    lines = np.array([p[2] for p in places])
    for i in range(n):
        j = np.array([k for k in range(i + 1, n) if owner[k] != owner[i]])
        if not len(j):
            continue
        # A hair less than asked, so that our own places do not fail by rounding.
        bad = (shapely.dwithin(boxes[i], boxes[j], 0.99) | shapely.dwithin(lines[i], lines[j], 0.49)
               | shapely.dwithin(boxes[i], lines[j], 0.49) | shapely.dwithin(lines[i], boxes[j], 0.49))
        for k in j[bad]:
            rows += [r, r]
            cols += [i, int(k)]
            low.append(0), high.append(1)
            r += 1
    cost = np.array([p[0] for p in places])
    matrix = coo_array((np.ones(len(rows)), (rows, cols)), shape=(r, n)).tocsc()
    done = milp(cost, constraints=LinearConstraint(matrix, low, high), integrality=np.ones(n), bounds=Bounds(0, 1), options={"time_limit": 120})
    if done.x is None:
        return None, False
    least = [min(cost[k] for k in range(n) if owner[k] == name) for name in names]
    proved = all(done.fun <= sum(least) - l + c + 1e-9 for l, c in zip(least, cut_off)) and done.status == 0
    return done.fun, proved


def check_leaders(count, args, instances):
    worst, crossings, full, text = 0.0, 0, 0, []
    for seed in range(instances):
        piece = crowded(seed)
        found, _ = arrange_with(args.setapart, piece)
        shown = shown_outlines(found)
        a, b, c = caption_faults(found, shown)
        crossings += a + b + c
        led = [c for c in found["captions"] if c["leader"]]
        ours = sum(shapely.LineString(c["leader"]).length for c in led)
        beside = [c for c in found["captions"] if not c["leader"]]
        count.check(len(led) >= 3, f"crowd {seed}: {len(led)} captions need leaders, so that there is something to compare", "piece document")
        least, proved = optimum(piece, led, beside, shown)
        if least is None:
            count.skip(f"leaders of crowd {seed}", "the integer program found nothing in its time")
            continue
        text.append(f"crowd {seed}: {len(found['captions'])} captions, {len(led)} leaders, {ours:.1f} mm, optimum {least:.1f} mm{'' if proved else ' (of the places listed)'}, ratio {ours / least:.3f}")
        print(text[-1])
        worst = max(worst, ours / least)
        full += len(found["captions"]) == 12
    (args.out / "arrange-leaders.txt").write_text("\n".join(text) + "\n")
    count.check(full >= instances - 1, f"all 12 captions have a place in {full} of {instances} crowds, asked {instances - 1}", "piece document")
    count.check(crossings == 0, f"{crossings} crossings or overlaps of captions in {instances} crowds", SHAPELY)
    count.check(0 < worst <= 1.15, f"leaders at most {worst:.3f} times as long as the optimum, limit 1.15", HIGHS)


# ---- the picture ----

TONES = {"shell": (196, 193, 186), "board": (92, 118, 104), "ribbon": (201, 157, 98), "screw": (110, 110, 114), "speaker": (112, 112, 116),
         "motor": (112, 112, 116), "wheel": (165, 83, 63), "camera": (70, 78, 86), "keys": (165, 83, 63)}


def draw_piece(piece, side_px):
    from PIL import Image, ImageDraw

    window, _ = outlines.window_and_field(piece["frame"])
    w, h = window.bounds[2:]
    scale = side_px / max(w, h) * 2
    image = Image.new("RGB", (side_px * 2, side_px * 2), (90, 80, 70))
    draw = ImageDraw.Draw(image)
    dx, dy = (side_px * 2 - w * scale) / 2, (side_px * 2 - h * scale) / 2
    at = lambda x, y: (dx + x * scale, dy + (h - y) * scale)
    paper = (246, 243, 236)
    draw.rectangle([*at(0, h), *at(w, 0)], fill=paper)
    kinds = {p["id"]: p["kind"] for p in piece["parts"]}
    for part, shape in shown_outlines(piece).items():
        draw.polygon([at(*p) for p in shape.exterior.coords], fill=TONES.get(kinds[part], (178, 181, 184)), outline=(50, 50, 50))
        for hole in shape.interiors:
            draw.polygon([at(*p) for p in hole.coords], fill=paper, outline=(50, 50, 50))
    for axis in piece.get("axes", []):
        for a, b in axis["lines"]:
            draw.line([at(*a), at(*b)], fill=(150, 140, 190), width=1)
    for c in piece["captions"]:
        lines = c["text"].count("\n") + 1
        for k in range(lines):
            y = c["y"] + c["h"] * (1 - (k + 0.35) / lines)
            draw.line([at(c["x"], y), at(c["x"] + c["w"] * (0.75 if k else 1), y)], fill=(150, 60, 60), width=2)
        if c["leader"]:
            draw.line([at(*p) for p in c["leader"]], fill=(20, 20, 20), width=1)
    return image.resize((side_px, side_px))


def contact_sheet(pieces, path, columns=10, side_px=300):
    from PIL import Image

    rows = math.ceil(len(pieces) / columns)
    sheet = Image.new("RGB", (columns * (side_px + 6), rows * (side_px + 6)), (40, 40, 40))
    for k, piece in enumerate(pieces):
        sheet.paste(draw_piece(piece, side_px), ((k % columns) * (side_px + 6) + 3, (k // columns) * (side_px + 6) + 3))
    sheet.save(path)


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--devices", type=int, default=devices.COUNT if os.environ.get("SETAPART_LONG") else 10)
    parser.add_argument("--only", choices=["graphviz", "devices", "leaders"])
    args = parser.parse_args()
    args.out.mkdir(parents=True, exist_ok=True)
    count = tally.Tally()
    if args.only in (None, "graphviz"):
        check_graphviz(count, args)
    if args.only in (None, "devices"):
        pieces = check_devices(count, args)
        for k in range(0, len(pieces), 50):
            contact_sheet(pieces[k:k + 50], args.out / f"arrange-devices-{k // 50 + 1}.png")
    if args.only in (None, "leaders"):
        check_leaders(count, args, 8 if os.environ.get("SETAPART_LONG") else 2)
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
