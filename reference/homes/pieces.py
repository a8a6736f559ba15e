#!/usr/bin/env python3
"""Make the piece of an invented device from the photos of its parts, through `setapart capture`.

    python pieces.py BUILD OUT PIECES [--only NAME,NAME]

BUILD has what devices.py wrote, OUT the rendered photos. Writes PIECES/NAME/piece.json, with the cut-outs beside it. Outlines and
cut-outs are what `capture` made of the photos; which of them is which part, and the thicknesses, are what somebody at the bench
knows. A part that `capture` takes for something else by itself (white on white) is drawn over with strokes, and paper that it takes for
part is struck out, as somebody would.
"""
import argparse, csv, json, os, subprocess, sys
from pathlib import Path
import numpy as np
from shapely import affinity
from shapely.geometry import LineString, Polygon
from shapely.ops import unary_union

PX = 12.0                                               # of cut-outs
BINARY = os.environ.get("SETAPART_BINARY", "setapart")


def lying(shape, pose, mirror):
    s = affinity.scale(shape, -1, 1, origin=(0, 0)) if mirror else shape
    return affinity.translate(affinity.rotate(s, pose["turn_deg"], origin=(0, 0)), pose["x"], pose["y"])


def polygon(o):
    return Polygon(o["outer"], o["holes"]).buffer(0)


def iou(a, b):
    return a.intersection(b).area / max(a.union(b).area, 1e-9)


def capture(photo, rows, folder, strokes=None):
    table = folder / f"{photo.stem}.csv"
    with table.open("w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["x_mm", "y_mm", "thickness_mm"])
        w.writerows([*r["at_mm"], r["thickness_mm"]] for r in rows)
    args = [BINARY, "capture", str(photo), "--json", "--tidy", "0", "--thicknesses", str(table), "--cutouts", str(folder)]
    if strokes:
        (folder / "strokes.json").write_text(json.dumps({"strokes": strokes}))
        args += ["--strokes", str(folder / "strokes.json")]
    run = subprocess.run(args, capture_output=True, text=True)
    if run.returncode not in (0, 1):                    # 1: a finding says stop, such as a part over the field's edge
        raise SystemExit(run.stderr)
    return json.loads(run.stdout)["captures"][0]["outlines"]


def hatch(shape, kind="include", step=1.6, inset=1.0):
    """Strokes that cover a shape, each inside it."""
    core, out = shape.buffer(-inset), []
    x0, y0, x1, y1 = core.bounds if not core.is_empty else (0, 0, -1, -1)
    for y in np.arange(y0 + 0.2, y1, step):
        cut = core.intersection(LineString([(x0 - 1, y), (x1 + 1, y)]))
        out += [{"kind": kind, "width_mm": 2 * inset, "points_mm": [list(p) for p in s.coords]} for s in getattr(cut, "geoms", [cut]) if s.length > 1]
    return out


def sheet_parts(truth, sheet, photos, folder, shapes):
    """part -> (outline as captured on the sheet, cut-out file)."""
    mirror = sheet["facing"] == "back"
    photo = photos / sheet["image"]
    meant = {r["part"]: lying(shapes[r["part"]], r["pose"], mirror) for r in sheet["parts"]}
    strokes, got = [], {}
    for attempt in range(3):
        seen = capture(photo, sheet["parts"], folder, strokes)
        polys = [polygon(o) for o in seen]
        got, poor = {}, []
        for name, m in meant.items():
            k = max(range(len(polys)), key=lambda k: iou(polys[k], m))
            if iou(polys[k], m) < 0.8:
                poor.append(name)
            if iou(polys[k], m) > 0.5:
                got[name] = (seen[k], polys[k], folder / f"{photo.stem}-{k + 1}.png")
        if not poor:
            break
        strokes += [s for n in poor for s in hatch(meant[n])] if attempt == 0 else []
        # Paper between two parts that came out as one is given back.
        lying_there = unary_union([m.buffer(0.3) for m in meant.values()])
        for n in poor:
            joined = max(polys, key=lambda q: q.intersection(meant[n]).area)
            strokes += hatch(joined.difference(lying_there), "exclude", step=0.8, inset=0.5)
        print(f"  {photo.stem}: {'drawn over' if attempt < 2 else 'still poor'}: {', '.join(poor)}", file=sys.stderr)
    return got, meant


def make(name, build, photos, pieces):
    make_from(json.loads((build / f"{name}.truth.json").read_text()), photos, pieces)


def make_from(truth, photos, pieces):
    name = truth["name"]
    shapes = {p["id"]: Polygon(p["outline"], p["holes"]) for p in truth["parts"]}
    folder = pieces / name
    folder.mkdir(parents=True, exist_ok=True)
    fronts, backs, poses = {}, {}, {}
    for sheet in truth["sheets"]:
        got, _ = sheet_parts(truth, sheet, photos, folder, shapes)
        (fronts if sheet["facing"] == "front" else backs).update(got)
        poses.update({(r["part"], sheet["facing"]): r["pose"] for r in sheet["parts"]})
    parts, homes = [], {}
    for p in truth["parts"]:
        if p["id"] not in fronts:
            print(f"  {name}: {p['id']} was not captured", file=sys.stderr)
            continue
        seen, poly, picture = fronts[p["id"]]
        x0, y0 = poly.bounds[:2]
        ring = lambda r: [[x - x0, y - y0] for x, y in r]
        part = {"id": p["id"], "name": p["id"].replace("-", " "), "kind": p["kind"], "outline": {"outer": ring(seen["outer"]),
                "holes": [ring(h) for h in seen["holes"]]}, "sigma_mm": round(seen["sigma_mm"], 3), "thickness_mm": p["thickness_mm"],
                "cutout": {"image": picture.name, "px_per_mm": PX, "origin_mm": [-1 / PX, -1 / PX]}}
        if p["id"] in backs:
            _, back, picture = backs[p["id"]]
            # The back's outline on the front's, mirrored about its own vertical centre line; the turn is known from how both lay.
            turn = -poses[p["id"], "front"]["turn_deg"] - poses[p["id"], "back"]["turn_deg"]
            w = poly.bounds[2] - x0
            mirrored = affinity.translate(affinity.scale(affinity.translate(poly, -x0, -y0), -1, 1, origin=(0, 0)), w, 0)
            turned = affinity.rotate(back, turn, origin=(0, 0))
            dx, dy = mirrored.centroid.x - turned.centroid.x, mirrored.centroid.y - turned.centroid.y
            lx, ly = back.bounds[0] - 1 / PX, back.bounds[1] - 1 / PX
            a = np.radians(turn)
            part["back_cutout"] = {"image": picture.name, "px_per_mm": PX, "turn_deg": turn,
                                   "origin_mm": [np.cos(a) * lx - np.sin(a) * ly + dx, np.sin(a) * lx + np.cos(a) * ly + dy]}
        parts.append(part)
        homes[p["id"]] = iou(poly, lying(shapes[p["id"]], poses[p["id"], "front"], False))
    piece = {"format": "setapart-piece", "version": 1, "name": name, "frame": {"size_mm": [400, 500], "lip_mm": 6, "board_clearance_mm": 2,
             "rebate_depth_mm": 35, "margin_mm": {"left": 12, "right": 12, "top": 12, "bottom": 18}, "spacer_width_mm": 5}, "parts": parts}
    (folder / "piece.json").write_text(json.dumps(piece) + "\n")
    print(f"{name}: {len(parts)} of {len(truth['parts'])} parts, outlines agree {min(homes.values()):.3f} at least")


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("build", type=Path)
    ap.add_argument("photos", type=Path)
    ap.add_argument("pieces", type=Path)
    ap.add_argument("--only")
    a = ap.parse_args()
    for path in sorted(a.build.glob("*.truth.json")):
        name = path.name.split(".")[0]
        if not a.only or name in a.only.split(","):
            make(name, a.build, a.photos, a.pieces)


if __name__ == "__main__":
    main()
