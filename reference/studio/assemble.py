#!/usr/bin/env python3
"""Put the device together again from its truth and homes, and check and draw it.

    python assemble.py DEMO_FOLDER -o assembled.png

Every part's outline is taken from the photo's truth, carried home by device.json and compared with the outline as it was
drawn in the device's frame; then what belongs together is checked: screws over bosses, display behind its window, keys in
their openings, ribbons over their sockets.
"""
import argparse, json
from pathlib import Path
import cv2
import numpy as np
from shapely import affinity
from shapely.geometry import Point, Polygon
import device
from layout import MAKERS


def assembled(folder):
    """{id: (outline in the device's frame, layer)} from truth and homes alone."""
    demo = json.loads((folder / "device.json").read_text())
    truth = {}
    for photo in demo["photos"]:
        for p in json.loads((folder / photo["image"].replace(".jpg", ".truth.json")).read_text())["parts"]:
            truth[p["name"]] = Polygon(p["outline_mm"], p["holes_mm"])
    out = {}
    for e in demo["parts"]:
        lies, h = truth[e["id"]], e["home"]
        assert lies.contains(Point(e["at_mm"])), f"{e['id']}: at_mm is not in the part"
        own = affinity.translate(lies, -lies.bounds[0], -lies.bounds[1])
        home = affinity.translate(affinity.rotate(own, h["turn_deg"], origin=(0, 0)), h["x"], h["y"])
        out[e["id"]] = (home, h["layer"], e)
    return out


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("folder", type=Path)
    ap.add_argument("-o", "--out", type=Path, default=Path("assembled.png"))
    a = ap.parse_args()
    parts = assembled(a.folder)
    worst = 0.0
    for id, (home, _, _) in parts.items():
        drawn = MAKERS[id]().outline
        worst = max(worst, home.hausdorff_distance(drawn))
    print(f"{len(parts)} parts; worst distance between an outline carried home and the outline as drawn: {worst:.4f} mm")
    assert worst < 0.002
    at = {k: v[0] for k, v in parts.items()}
    holes = lambda id: [Polygon(r) for r in at[id].interiors]
    hole_at = lambda id, x, y: any(h.contains(Point(x, y)) for h in holes(id))
    for k, (x, y) in enumerate(device.SCREWS):
        assert at[f"screw-{k + 1}"].centroid.distance(Point(x, y)) < 0.01 and at["back-shell"].contains(Point(x, y))
    assert hole_at("mic-bar", *device.SCREWS[0]) and all(hole_at("audio-board", *s) for s in device.SCREWS[1:])
    assert all(hole_at("main-board", *p) for p in device.POSTS) and all(hole_at("cell-bracket", *p) for p in device.STRAP)
    openings = holes("front-shell")
    window = max(openings, key=lambda h: h.area)
    assert at["display"].contains(window.buffer(0.5))
    for h in openings:
        if h is not window:
            assert at["key-mat"].contains(h.centroid) and at["main-board"].contains(h.centroid)
    assert not at["wheel"].intersects(at["front-shell"]) and not at["wheel"].intersects(at["key-mat"])
    assert at["wheel"].contains(Point(*device.WHEEL)) and at["main-board"].contains(Point(*device.WHEEL))
    assert at["audio-board"].intersection(Point(*device.SPEAKER).buffer(9.2)).is_empty
    case = at["back-shell"].union(at["front-shell"]).buffer(0.01)
    for id, g in at.items():
        if id not in ("front-shell", "back-shell", "wheel"):
            assert case.contains(g) or g.difference(case).within(Point(*device.WHEEL).buffer(13)), f"{id} sticks out of the case"
    groups = {}
    for id, (g, layer, _) in parts.items():
        for other, (h, at_layer, _) in parts.items():
            if id < other and layer == at_layer:
                shared = g.intersection(h).area
                if shared > 0.01:
                    groups[id, other] = round(shared, 2)
    print("overlaps within a layer (mm2):", groups or "none")

    k, pad = 14, 6
    w, h = int((device.WIDTH + 2 * pad) * k), int((device.HEIGHT + 2 * pad) * k)
    panels = []
    colours = {"shell": (84, 96, 78), "board": (44, 104, 74), "display": (60, 60, 64), "ribbon": (206, 134, 46), "speaker": (90, 86, 80), "keys": (160, 158, 150),
               "wheel": (70, 74, 76), "microphone": (160, 164, 168), "bracket": (150, 150, 148), "shield": (190, 112, 76), "cell": (180, 154, 98),
               "antenna": (156, 128, 98), "screw": (40, 40, 40)}
    for layers in ([8], [7, 6, 5], [4, 3], [2], [1, 0], list(range(10))):
        img = np.full((h, w, 3), 250, np.uint8)
        for id, (g, layer, e) in sorted(parts.items(), key=lambda kv: -kv[1][1]):
            if layer not in layers and not (id == "back-shell" and layers != [8]):
                continue
            rings = [np.round((np.column_stack([np.array(r.coords)[:, 0] + pad, device.HEIGHT + pad - np.array(r.coords)[:, 1]]) * k) * 16).astype(np.int32)
                     for r in (g.exterior, *g.interiors)]
            over = img.copy()
            cv2.fillPoly(over, rings, colours[e["kind"]][::-1], cv2.LINE_AA, 4)
            alpha = 0.25 if (id == "back-shell" and layers != [8]) else 0.75
            img = cv2.addWeighted(over, alpha, img, 1 - alpha, 0)
            cv2.polylines(img, rings, True, (30, 30, 30), 2, cv2.LINE_AA, 4)
        panels.append(img)
    cv2.imwrite(str(a.out), np.vstack([np.hstack(panels[:3]), np.hstack(panels[3:])]))


if __name__ == "__main__":
    main()
