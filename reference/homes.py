#!/usr/bin/env python3
"""`homes` on rendered photos of opened devices, against their exact truth, side by side with OpenCV on the same photos.

    python homes.py                     the sample in tests/data/homes
    python homes.py BUILD OUT [--page FILE] [NAME..]
                                        the full set: scenes and truth by homes/devices.py, photos by homes/render.py; the page gets a table

Counted: parts larger than 6 mm. Found: the middle of its outline within 2 mm and the turn within 4 degrees of the truth, in the
device's own frame; wrong and sure: anywhere else at a confidence of 0.8 or more. OpenCV gets the photo undistorted and rectified by
the true camera, the region of the device, and the true height of each part, so that it only has to find it: `matchTemplate`
(TM_CCOEFF_NORMED with mask) over turns of 3 degrees at 2 px/mm, refined at 5 px/mm; SIFT features with a similarity by RANSAC. Of several
photos the best score counts.
"""
import json, os, subprocess, sys, tempfile, time
from pathlib import Path
import cv2
import numpy as np
from shapely.geometry import Polygon
import tally

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "homes"))
import pieces  # noqa: E402

TRUTH = "rendered truth"
LARGE_MM, PLACE_MM, TURN_DEG, SURE = 6.0, 2.0, 4.0, 0.8


def rot(deg):
    a = np.radians(deg)
    return np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])


def size(p):
    return float(max(np.ptp(np.array(p["outline"]), axis=0)))


def turn_off(deg, true, symmetry):
    if symmetry == 0:
        return 0.0
    q = 360 / symmetry
    return (deg - true + q / 2) % q - q / 2


def ours(truth, piece_path, photos):
    args = [pieces.BINARY, "homes", "--in", str(piece_path), "--opened-from", truth["opened_from"], "--json", "--inside"]
    args += [f"{photos / i['image']}@{i['stage']}" for i in truth["inside"]]
    start = time.perf_counter()
    run = subprocess.run(args, capture_output=True, text=True)
    seconds = time.perf_counter() - start
    if run.returncode not in (0, 1):
        raise SystemExit(run.stderr)
    piece = {p["id"]: p for p in json.loads(piece_path.read_text())["parts"]}
    rows = {}
    for e in json.loads(run.stdout):
        if e["found"]:
            o = piece[e["part"]]["outline"]
            c = np.array(Polygon(o["outer"], o["holes"]).buffer(0).centroid.coords[0])
            rows[e["part"]] = (rot(e["turn_deg"]) @ c + [e["x"], e["y"]], e["turn_deg"], e["confidence"], e["layer"], e["alike"])
    return rows, seconds


def as_twin(p, twin):
    """Centroid and turn of a part that lies where its twin does, or nothing where their shapes differ."""
    a, b = np.array(p["outline"]), np.array(twin["outline"])
    if len(a) != len(b) or p["material"] != twin["material"]:
        return None
    a, b = a - a.mean(0), b - b.mean(0)
    u, _, v = np.linalg.svd(a.T @ b)
    r = (u @ np.diag([1, np.linalg.det(u @ v)]) @ v).T
    if np.abs(a @ r.T - b).max() > 0.01:
        return None
    return twin["centroid"], p["home_turn_deg"] + np.degrees(np.arctan2(r[1, 0], r[0, 0]))


def judged(truth, found):
    """(part, mm off, degrees off, confidence) of each that is found. Of two that are the same nobody can tell which is which: where both
    are told as alike (`alike`), they may be changed about, both of them."""
    rows, done = [], set()
    for p in truth["parts"]:
        if p["id"] not in found or p["id"] in done:
            continue
        twins = [q for q in truth["parts"] if q is not p and q["id"] in found and q["id"] in found[p["id"]][4] and as_twin(p, q)]
        both = [p] + twins[:1]
        done |= {q["id"] for q in both}
        ways = []
        for homes in ([(q["centroid"], q["home_turn_deg"]) for q in both], [as_twin(a, b) for a, b in zip(both, both[::-1])] if twins else None):
            ways.append([(q, float(np.hypot(*(found[q["id"]][0] - at))), turn_off(found[q["id"]][1], deg, q["symmetry"]), found[q["id"]][2])
                         for q, (at, deg) in zip(both, homes)] if homes else [])
        rows += max(ways, key=lambda way: sum(off < PLACE_MM and abs(dt) < TURN_DEG for _, off, dt, _ in way))
    return rows


class Rectified:
    """A photo seen from above at 5 px/mm, for one height over the sheet, by the true camera."""

    def __init__(self, path, camera, region):
        self.img = cv2.imread(str(path))
        self.K, self.d = np.array(camera["K"]), np.array(camera["dist_k1k2p1p2k3"])
        self.R, self.t, self.region = np.array(camera["R"]), np.array(camera["t"]), region

    def at(self, z, ppm):
        x0, y0, x1, y1 = self.region
        w, h = int((x1 - x0) * ppm), int((y1 - y0) * ppm)
        gx, gy = np.meshgrid(x0 + (np.arange(w) + 0.5) / ppm, y1 - (np.arange(h) + 0.5) / ppm)
        p = np.column_stack([gx.ravel(), gy.ravel(), np.full(gx.size, z)])
        q = cv2.projectPoints(p, cv2.Rodrigues(self.R)[0], self.t, self.K, self.d)[0].reshape(h, w, 2).astype(np.float32)
        small = cv2.GaussianBlur(self.img, (0, 0), 0.4 * 9 / ppm) if ppm < 4 else self.img
        return cv2.remap(small, q, None, cv2.INTER_LINEAR)


def template(folder, part, side, ppm):
    c = part["cutout"] if side == "front" else part.get("back_cutout")
    if not c:
        return None
    rgba = cv2.imread(str(folder / c["image"]), cv2.IMREAD_UNCHANGED)
    k = ppm / c["px_per_mm"]
    return cv2.resize(rgba, None, fx=k, fy=k, interpolation=cv2.INTER_AREA)


def turned(rgba, deg):
    h, w = rgba.shape[:2]
    m = cv2.getRotationMatrix2D((w / 2, h / 2), deg, 1)
    nw, nh = (int(np.ceil(abs(m[0, 0]) * w + abs(m[0, 1]) * h)), int(np.ceil(abs(m[0, 1]) * w + abs(m[0, 0]) * h)))
    m[:, 2] += [(nw - w) / 2, (nh - h) / 2]
    return cv2.warpAffine(rgba, m, (nw, nh))


def match(img, rgba, turns):
    best = (-2, 0, (0, 0))
    for deg in turns:
        t = turned(rgba, deg)
        if t.shape[0] > img.shape[0] or t.shape[1] > img.shape[1]:
            continue
        mask = (t[..., 3] > 127).astype(np.uint8)
        if mask.sum() < 12:
            continue
        score = cv2.matchTemplate(img, t[..., :3], cv2.TM_CCOEFF_NORMED, mask=cv2.merge([mask] * 3))
        score[~np.isfinite(score)] = -1
        _, v, _, at = cv2.minMaxLoc(score)
        if v > best[0]:
            best = (v, deg, (at[0] + t.shape[1] / 2, at[1] + t.shape[0] / 2))
    return best


def by_template(rect, folder, part, side, z):
    coarse = template(folder, part, side, 2.0)
    if coarse is None:
        return None
    v, deg, (x, y) = match(rect.at(z, 2.0), coarse, np.arange(0, 360, 3))
    fine, img = template(folder, part, side, 5.0), rect.at(z, 5.0)
    r = int(np.hypot(*fine.shape[:2]) / 2 + 8)
    cx, cy = int(x * 2.5), int(y * 2.5)
    x0, y0 = max(0, cx - r), max(0, cy - r)
    v, deg, (x, y) = match(img[y0:cy + r, x0:cx + r], fine, deg + np.arange(-2, 2.01, 0.5))
    return v, deg, np.array([rect.region[0] + (x + x0) / 5, rect.region[3] - (y + y0) / 5])


def by_features(rect, folder, part, side, z):
    rgba = template(folder, part, side, 10.0)
    if rgba is None:
        return None
    sift, img = cv2.SIFT_create(), rect.at(z, 8.0)
    ka, da = sift.detectAndCompute(rgba[..., :3], (rgba[..., 3] > 127).astype(np.uint8) * 255)
    kb, db = sift.detectAndCompute(img, None)
    if da is None or db is None or len(ka) < 4 or len(kb) < 4:
        return None
    good = [m for m, n in (p for p in cv2.BFMatcher().knnMatch(da, db, k=2) if len(p) == 2) if m.distance < 0.8 * n.distance]
    if len(good) < 4:
        return None
    a, b = np.float32([ka[m.queryIdx].pt for m in good]), np.float32([kb[m.trainIdx].pt for m in good])
    M, inliers = cv2.estimateAffinePartial2D(a, b, ransacReprojThreshold=4)
    if M is None or inliers.sum() < 4 or not 0.7 < np.hypot(M[0, 0], M[1, 0]) / 0.8 < 1.4:
        return None
    mid = M @ [rgba.shape[1] / 2, rgba.shape[0] / 2, 1]
    return int(inliers.sum()), -np.degrees(np.arctan2(M[1, 0], M[0, 0])), np.array([rect.region[0] + mid[0] / 8, rect.region[3] - mid[1] / 8])


def opencv(truth, folder, photos, way):
    """Best over the photos, in the device's frame by the true pose."""
    piece = {p["id"]: p for p in json.loads((folder / "piece.json").read_text())["parts"]}
    W, H = truth["size_mm"]
    side, top = truth["opened_from"], max(p["z_mm"] + p["thickness_mm"] for p in truth["parts"])
    rows, start = {}, time.perf_counter()
    for i in truth["inside"]:
        camera = json.loads((photos / i["image"].replace(".jpg", ".truth.json")).read_text())["camera"]
        pose = i["pose"]
        x = np.array([[0, 0], [W, 0], [W, H], [0, H]], float) * ([-1, 1] if side == "back" else [1, 1])
        c = x @ rot(pose["turn_deg"]).T + [pose["x"], pose["y"]]
        rect = Rectified(photos / i["image"], camera, (*(c.min(0) - 6), *(c.max(0) + 6)))
        for p in truth["parts"]:
            if size(p) <= LARGE_MM or p["id"] not in piece:
                continue
            z = p["z_mm"] + p["thickness_mm"] if side == "front" else top - p["z_mm"]
            got = way(rect, folder, piece[p["id"]], side, z)
            if got is None:
                continue
            v, deg, at = got
            # The middle of the picture's box in the device's frame, and what it should be: compared there.
            d = rot(-pose["turn_deg"]) @ (at - [pose["x"], pose["y"]])
            turn = deg - pose["turn_deg"]
            if side == "back":
                d, turn = np.array([-d[0], d[1]]), -turn
            if p["id"] not in rows or v > rows[p["id"]][2]:
                rows[p["id"]] = (d, turn, v)
    return rows, time.perf_counter() - start


def box_middle(truth, piece_part, p, side):
    """Where the middle of the cut-out's box truly is, in the device's frame."""
    o = piece_part["outline"]
    b = Polygon(o["outer"]).bounds
    mid, c = np.array([(b[0] + b[2]) / 2, (b[1] + b[3]) / 2]), np.array(Polygon(o["outer"], o["holes"]).buffer(0).centroid.coords[0])
    return np.array(p["centroid"]) + rot(p["home_turn_deg"]) @ (mid - c)


def device(name, truth, folder, photos, with_opencv):
    found, seconds = ours(truth, folder / "piece.json", photos)
    piece = {p["id"]: p for p in json.loads((folder / "piece.json").read_text())["parts"]}
    large = [p for p in truth["parts"] if size(p) > LARGE_MM]
    row = {"device": name, "photos": len(truth["inside"]), "parts": len(large), "found": 0, "wrong": 0, "place": [], "turn": [], "s": seconds}
    for p, off, dt, sure in judged(truth, found):
        right = off < PLACE_MM and abs(dt) < TURN_DEG
        row["wrong"] += sure >= SURE and not right
        if right and size(p) > LARGE_MM:
            row["found"] += 1
            row["place"].append(off)
            row["turn"].append(dt)
    for key, way in (("template", by_template), ("features", by_features)) if with_opencv else ():
        rows, seconds = opencv(truth, folder, photos, way)
        good = []
        for p in large:
            if p["id"] in rows and p["id"] in piece:
                d, turn, _ = rows[p["id"]]
                off = np.hypot(*(d - box_middle(truth, piece[p["id"]], p, truth["opened_from"])))
                base = p["home_turn_deg"] if truth["opened_from"] == "front" else None
                dt = turn_off(turn, base, p["symmetry"]) if base is not None else 0.0
                if off < PLACE_MM + 0.5 and abs(dt) < TURN_DEG:
                    good.append(off)
        row[key] = {"found": len(good), "told": len(rows), "rms": float(np.sqrt(np.mean(np.square(good)))) if good else None, "s": seconds}
    return row


def rms(v):
    return float(np.sqrt(np.mean(np.square(v)))) if v else float("nan")


def together(rows):
    """Parts, found, wrong and sure; place (mm) and turn (degrees) RMS, of all devices."""
    parts, found, wrong = (sum(r[k] for r in rows) for k in ("parts", "found", "wrong"))
    return parts, found, wrong, rms([v for r in rows for v in r["place"]]), rms([v for r in rows for v in r["turn"]])


def page(rows):
    """The table of a full run as Markdown."""
    head = ["device", "photos", "parts", "found", "wrong and sure", "place, mm", "turn, degrees", "s",
            "template: found of told", "mm", "s", "features: found of told", "mm", "s"]
    lines = ["| " + " | ".join(head) + " |", "| --- |" + " ---: |" * (len(head) - 1)]
    mm = lambda v: "" if v is None else f"{v:.2f}"
    for r in rows:
        cells = [r["device"], r["photos"], r["parts"], r["found"], r["wrong"], f"{rms(r['place']):.2f}", f"{rms(r['turn']):.2f}", f"{r['s']:.0f}"]
        for key in ("template", "features"):
            cells += [f"{r[key]['found']} of {r[key]['told']}", mm(r[key]["rms"]), f"{r[key]['s']:.0f}"]
        lines.append("| " + " | ".join(map(str, cells)) + " |")
    total = lambda key, what: sum(r[key][what] for r in rows)
    parts, found, wrong, place, turn = together(rows)
    lines.append("")
    lines.append(f"All: {found} of {parts} parts larger than {LARGE_MM:.0f} mm found, {wrong} wrong and sure, {place:.2f} mm, {turn:.2f} degrees RMS; template matching "
                 f"{total('template', 'found')} right of {total('template', 'told')}, features {total('features', 'found')} right of {total('features', 'told')}.")
    return "\n".join(lines) + "\n"


def main():
    pieces.BINARY = os.environ.get("SETAPART_BINARY", pieces.BINARY)
    check = tally.Tally()
    words, table = sys.argv[1:], None
    if "--page" in words:
        at = words.index("--page")
        table = Path(words[at + 1])
        del words[at:at + 2]
    sample = len(words) < 2
    build = HERE.parent / "tests/data/homes" if sample else Path(words[0])
    photos = build if sample else Path(words[1])
    rows = []
    with tempfile.TemporaryDirectory() as scratch:
        if sample:
            truths = [build / "device.json"]
        else:
            names = words[2:]
            truths = [p for p in sorted(build.glob("*.truth.json")) if not names or p.name.split(".")[0] in names]
        for path in truths:
            truth = json.loads(path.read_text())
            # A run of the renderer that was stopped leaves devices without some of their photos.
            truth["inside"] = [i for i in truth["inside"] if (photos / i["image"]).exists()]
            if len(truth["inside"]) < 2 or not all((photos / s["image"]).exists() for s in truth["sheets"]):
                check.skip(truth["name"], "not rendered yet")
                continue
            pieces.make_from(truth, photos, Path(scratch))
            row = device(truth["name"], truth, Path(scratch) / truth["name"], photos, not sample)
            rows.append(row)
            line = f"{row['device']:8s} photos {row['photos']} parts {row['parts']:2d} found {row['found']:2d} wrong and sure {row['wrong']} " \
                   f"place {rms(row['place']):.2f} mm turn {rms(row['turn']):.2f} deg {row['s']:.1f} s"
            for key in ("template", "features"):
                if key in row:
                    r = row[key]
                    line += f" | {key} {r['found']} of {r['told']} {r['rms'] or float('nan'):.2f} mm {r['s']:.0f} s"
            print(line, flush=True)
    if rows:
        parts, found, wrong, place, turn = together(rows)
        # One device of the sample is no measure of shares: it has its own limits.
        limits = (0.75, 0, 0.9, 0.6) if sample else (0.95, 0, 0.5, 0.5)
        if table and not sample:
            table.write_text(page(rows))
        check.check(found >= limits[0] * parts, f"{found} of {parts} parts larger than 6 mm found (limit {limits[0]:.0%})", TRUTH)
        check.check(wrong <= limits[1], f"{wrong} put in a wrong place at a confidence of {SURE} or more (limit {limits[1]})", TRUTH)
        check.check(place < limits[2], f"place {place:.2f} mm RMS (limit {limits[2]})", TRUTH)
        check.check(turn < limits[3], f"turn {turn:.2f} degrees RMS (limit {limits[3]})", TRUTH)
    sys.exit(check.close())


if __name__ == "__main__":
    main()
