#!/usr/bin/env python3
"""Draw all parts, lay them on the demo's four capture sheets, and write the scenes and the demo's device.json.

    python layout.py -o build --sheet SHEET.png SHEET.json
"""
import argparse, json, shutil
from pathlib import Path
import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon, box
import bench
import boards, modules, shells
from device import MODEL, NAME

FIELD = box(29, 29, 181, 268).buffer(-6, join_style="mitre")   # where parts may lie on an A4 capture sheet
MAKERS = {"front-shell": shells.front_shell, "back-shell": shells.back_shell, "display": modules.display, "key-mat": modules.key_mat,
          "wheel": modules.wheel, "speaker": modules.speaker, "mic-bar": modules.mic_bar, "main-board": boards.main_board,
          "audio-board": boards.audio_board, "display-ribbon": boards.display_ribbon, "link-ribbon": boards.link_ribbon,
          "cell-bracket": modules.cell_bracket, "shield-plate": modules.shield_plate, "antenna": modules.antenna, "cell": modules.cell,
          "screw-1": lambda: modules.screw(0), "screw-2": lambda: modules.screw(1), "screw-3": lambda: modules.screw(2)}

# part: (middle of its bounding box on the sheet, turn from the device's frame); a hand lays nothing down quite square
SHEETS = {
    "1-shells": {"front-shell": (69, 152, 1.2), "back-shell": (141, 146, -1.7)},
    "2-boards": {"main-board": (69, 188, 2.1), "audio-board": (72, 122, -1.4), "display": (142, 182, 1.6), "antenna": (140, 130, 5.0)},
    "3-inside": {"cell": (68, 198, -1.8), "cell-bracket": (74, 150, 2.4), "shield-plate": (70, 111, -2.2), "speaker": (131, 127, 8.0),
                 "mic-bar": (134, 190, 86.0)},
    "4-small": {"key-mat": (74, 184, -2.5), "wheel": (136, 180, -12.0), "display-ribbon": (76, 120, -4.0), "link-ribbon": (138, 122, 9.0),
                "screw-1": (107, 172, 10.0), "screw-2": (104, 150, 40.0), "screw-3": (108, 131, -30.0)},
}
CAMERAS = {
    "1-shells": dict(focal_35mm=28, height_mm=352, tilt_deg=3.2, tilt_dir_deg=-75, roll_deg=91.2, look_at_mm=[106, 149], k1=0.032, k2=-0.018),
    "2-boards": dict(focal_35mm=28, height_mm=338, tilt_deg=4.6, tilt_dir_deg=-118, roll_deg=88.9, look_at_mm=[104, 150], k1=0.032, k2=-0.018),
    "3-inside": dict(focal_35mm=28, height_mm=344, tilt_deg=5.4, tilt_dir_deg=-62, roll_deg=90.7, look_at_mm=[106, 147], k1=0.032, k2=-0.018),
    "4-small": dict(focal_35mm=28, height_mm=334, tilt_deg=6.5, tilt_dir_deg=-95, roll_deg=89.3, look_at_mm=[105, 148], k1=0.032, k2=-0.018),
}
LIGHT = {"1-shells": 8, "2-boards": -6, "3-inside": 14, "4-small": 2}      # the window stands a little differently each time


def pose_of(part, spot):
    """sheet_from_device: turn about the device's origin, then shift."""
    cx, cy, turn = spot
    x0, y0, x1, y1 = affinity.rotate(part.outline, turn, origin=(0, 0)).bounds
    return {"x": round(cx - (x0 + x1) / 2, 4), "y": round(cy - (y0 + y1) / 2, 4), "turn_deg": turn}


def on_sheet(geom, pose):
    return affinity.translate(affinity.rotate(geom, pose["turn_deg"], origin=(0, 0)), pose["x"], pose["y"])


def scene_part(part, pose, face):
    ring = lambda r: [[round(x, 4), round(y, 4)] for x, y in r.coords[:-1]]
    return {"name": part.id, "outline": ring(part.outline.exterior), "holes": [ring(h) for h in part.outline.interiors], "z": 0.0,
            "thickness": part.edge, "height": round(part.height, 3), "bevel": part.bevel, "material": part.back, "pose": pose,
            "face": face, "slabs": part.slabs, "lathes": part.lathes}


def home_of(pose, outline_on_sheet):
    """device_from_own: own origin = lower-left corner of the bounding box of the outline as it lies on the sheet."""
    lo = np.array(outline_on_sheet.bounds[:2])
    a = np.radians(-pose["turn_deg"])
    turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
    x, y = turn @ (lo - [pose["x"], pose["y"]])
    return {"x": round(x, 4), "y": round(y, 4), "turn_deg": round(-pose["turn_deg"], 4)}


def material_point(geom):
    """A point of the outline as far from every edge as it gets (0.5 mm grid)."""
    x0, y0, x1, y1 = geom.bounds
    spots = [Point(x, y) for x in np.arange(x0, x1, 0.5) for y in np.arange(y0, y1, 0.5)]
    best = max((p for p in spots if geom.contains(p)), key=geom.boundary.distance)
    return [round(best.x, 2), round(best.y, 2)]


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("-o", "--out", type=Path, default=Path("build"))
    ap.add_argument("--sheet", type=Path, nargs=2, metavar=("PNG", "JSON"), required=True, help="the capture sheet's picture and its tag corners")
    ap.add_argument("--only", help="draw only these parts again (comma list); the rest is read from the last run")
    a = ap.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    for src in a.sheet:
        shutil.copy(src, a.out / f"sheet-a4{src.suffix}")
    bench.draw(a.out / "bench.png")
    record = a.out / "faces.json"
    faces = json.loads(record.read_text()) if record.exists() else {}
    entries = []
    for sheet, spots in SHEETS.items():
        laid, parts = [], []
        for id, spot in spots.items():
            if a.only and id not in a.only.split(","):
                entries.append(faces[id]["entry"])
                parts.append(faces[id]["scene"])
                continue
            part = MAKERS[id]()
            pose = pose_of(part, spot)
            lies = on_sheet(part.outline, pose)
            assert part.overhang() > 0.25, f"{id}: a detail stands too near the edge ({part.overhang():.2f} mm)"
            parts.append(scene_part(part, pose, part.face.save(a.out / "faces", id)))
            entry = {"id": id, "name": part.name, "kind": part.kind, "photo": f"{sheet}.jpg", "at_mm": material_point(lies),
                     "thickness_mm": round(part.height, 2), "edge_mm": round(part.edge, 2), "mass_g": part.mass, "back_face": part.back,
                     "hazards": part.hazards, "stand_in": part.stand_in, "home": {**home_of(pose, lies), "layer": part.layer}}
            entries.append(entry)
            faces[id] = {"entry": entry, "scene": parts[-1]}
            w, h = np.subtract(lies.bounds[2:], lies.bounds[:2])
            print(f"{id}: {len(part.slabs)} slabs, {len(part.lathes)} turned, {part.height:.2f} mm, {w:.1f} x {h:.1f}", flush=True)
        for p in parts:
            q = on_sheet(Polygon(p["outline"]), p["pose"])
            assert FIELD.contains(q), f"{p['name']} leaves the field: {q.bounds}"
            for other, r in laid:
                assert q.distance(r) > 6, f"{p['name']} and {other}: {q.distance(r):.1f} mm"
            laid.append((p["name"], q))
        (a.out / f"{sheet}.json").write_text(json.dumps({
            "sheet": {"png": "sheet-a4.png", "size_mm": [210, 297]}, "table": {"rgb": [96, 78, 60], "png": "bench.png", "size_mm": [840, 840]},
            "parts": parts, "camera": CAMERAS[sheet], "lights": {"preset": "window", "azimuth_deg": LIGHT[sheet], "fill": 2.0},
            "seed": 40 + int(sheet[0]), "spp": 16, "limit_kb": 3000}))
    record.write_text(json.dumps(faces))
    order = list(MAKERS)
    entries.sort(key=lambda e: order.index(e["id"]))
    device = {"name": f"{NAME} {MODEL}", "maker": "Tarnwick Field Instruments", "year": 2022,
              "story": "It slid off a boulder into a mountain tarn at first light and recorded eleven more minutes of ring ouzel on the way down.",
              "photos": [{"image": f"{s}.jpg", "sheet": "a4"} for s in SHEETS], "parts": entries}
    (a.out / "device.json").write_text(json.dumps(device, indent=1, ensure_ascii=False) + "\n")
    print(f"{len(entries)} parts")


if __name__ == "__main__":
    main()
