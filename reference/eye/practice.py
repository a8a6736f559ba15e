#!/usr/bin/env python3
"""Invent seeded practice scenes: odd parts of every surface under every light, on sheets seen from many places.

    practice.py FIRST COUNT -o DIR --sheets SHEET.png...   renders scene numbers FIRST .. FIRST+COUNT-1

Needs the photo studio (../studio) on PYTHONPATH and its virtual environment; for scenes from 500 on, also what its layout.py
wrote (--build).
"""
import argparse, json, multiprocessing, sys
from pathlib import Path
import numpy as np
from shapely import affinity
from shapely.geometry import Polygon, box
from PIL import Image
import make_parts as mp
from hulls import hull_parts
from odd_parts import COLOURED, MATERIALS, NEW, coloured, tone_of
from recessed import metal_parts, stepped_parts

BOARDS_FROM = 300              # scenes from this number on are about boards and screws


def parts(g, number, out):
    area = (31.5, 31.5, 178.5, 265.5)
    kinds, shapes = [], []
    old = list(mp.KINDS)
    large = g.choice(["panel", "shell", "board", "case", "none"], g.integers(0, 4))
    if number >= BOARDS_FROM:                          # boards with packages and small screws, the commonest of all
        large = ["board"] * int(g.integers(1, 4)) + list(g.choice(["panel", "shell", "case"], g.integers(0, 2)))
    rest = g.choice(old[2:3] + old[3:7] + list(NEW) * 2, g.integers(4, 16))
    for k in [*large, *rest, *["screw"] * g.integers(0, 4), *["bit", "screw", "washer"] * (4 if number >= BOARDS_FROM else 0)]:
        if k == "none":
            continue
        p, t = (mp.KINDS[k][0] if k in mp.KINDS else NEW[k])(g)
        p = p.simplify(0.002)
        if p.geom_type != "Polygon" or p.area < 1.5:
            continue
        kinds.append(k)
        shapes.append((k, p, float(min(t, 12))))
    made = []
    for i, q in mp.place(g, shapes, area, g.uniform(2.5, 7)):
        kind, _, t = shapes[i]
        usual = mp.KINDS[kind][1] if kind in mp.KINDS else MATERIALS
        mat = str(g.choice(usual if g.random() < 0.6 else MATERIALS))
        if number >= BOARDS_FROM and kind == "board" and g.random() < 0.85:
            mat = "pcb"
        rec = mp.record(f"{kind}{i}", q, t, mat, texture_seed=int(number * 100 + i))
        if g.random() < 0.2:
            rec["bevel"] = float(g.uniform(0.02, 0.6))
        if mat in ("pcb",) and kind in mp.KINDS and kind == "board":
            made += [rec, *mp.chips(g, q, t, f"{kind}{i}")] if g.random() < 0.7 else [rec]
            continue
        if mat in COLOURED and mat != "glass" and g.random() < 0.5:
            coloured(g, rec, tone_of(g), out / f"face-{number}-{i}.png", 0.4)
        made.append(rec)
    return made


def built_parts(g, number, out, build):
    """Parts with drawn faces, ribs, recesses and turned bodies, in other colours and finishes, lying anywhere."""
    all_parts = []
    for f in sorted(build.glob("[1-4]-*.json")):
        all_parts += json.loads(f.read_text())["parts"]
    area = (32, 32, 178, 265)
    chosen = [all_parts[i] for i in g.permutation(len(all_parts))[:int(g.integers(6, 13))]]
    shapes = [(p["name"], Polygon(p["outline"], p["holes"]), p["thickness"]) for p in chosen]
    free, made = box(*area), []
    for p, (_, outline, _) in sorted(zip(chosen, shapes), key=lambda v: -v[1][1].area):
        for _ in range(300):
            turn = float(g.choice([0, 90, 180, 270]) + g.normal(0, 6)) if outline.area > 1500 else float(g.uniform(0, 360))
            q = affinity.rotate(outline, turn, origin=(0, 0))
            lo, hi = np.array(area[:2]) - q.bounds[:2], np.array(area[2:]) - q.bounds[2:]
            if not (hi > lo).all():
                continue
            shift = g.uniform(lo, hi)
            q = affinity.translate(q, *shift)
            if free.contains(q):
                free -= q.buffer(3.5)
                p = json.loads(json.dumps(p))
                p["pose"] = {"x": float(shift[0]), "y": float(shift[1]), "turn_deg": turn}
                face = p["face"]
                for key in ("texture", "props", "bump"):
                    if key in face:
                        face[key] = str((build / face[key]).resolve())
                if g.random() < 0.7:                     # other colours: a curve for each channel
                    img = np.asarray(Image.open(face["texture"]).convert("RGB")).astype(np.float32) / 255
                    lift, gain, power = g.uniform(0, 0.5), g.uniform(0.5, 1.4, 3), g.uniform(0.5, 1.8)
                    if g.random() < 0.35:
                        gain[:] = gain[0]
                    img = lift + (1 - lift) * np.clip(img ** power * gain, 0, 1)
                    if g.random() < 0.3:
                        img = 1 - img
                    name = out / f"built-{number}-{p['name']}.png"
                    Image.fromarray((255 * img).astype(np.uint8)).save(name)
                    face["texture"] = str(name.resolve())
                    for slab in p["slabs"]:
                        if "rgb" in slab.get("side", {}):
                            c = np.array(slab["side"]["rgb"]) / 255
                            slab["side"]["rgb"] = [int(v) for v in 255 * (lift + (1 - lift) * np.clip(c ** power * gain, 0, 1))]
                made.append(p)
                break
    return made


BUILT_FROM = 500               # scenes from this number on hold parts as the demo's device is built of
USUAL_FROM = 600               # scenes from this number on hold what a bench usually holds, in its usual surfaces
STEPPED_FROM = 1000            # scenes from this number on are about recesses: ledges round openings, trays, pits, sunk holes
METALS_FROM = 1300             # scenes from this number on are about bare metal in hard light, its walls mirrors, its shade as dark as it
HULLS_FROM = 1400              # scenes from this number on are about hulls: deep trays that lie open, and fronts with windows
CARDS_FROM = 1500              # scenes from this number on hold what a bench usually holds, most on a coloured card


def usual_parts(g, number):
    """The studio's own kinds, one or more of each, mostly in their own surfaces and thicknesses."""
    kinds = list(mp.KINDS) + list(g.choice(["board", "ribbon", "module", "bracket", "speaker", "screw", "screw"], g.integers(0, 7)))
    if g.random() < 0.4:
        kinds.remove(str(g.choice(["panel", "shell"])))
    shapes = []
    for k in kinds:
        p, t = mp.KINDS[k][0](g)
        if k in ("module", "shell", "speaker", "bracket") and g.random() < 0.2:
            t = g.uniform(t, 12)
        shapes.append((k, p, float(t)))
    made = []
    for i, q in mp.place(g, shapes, (30, 30, 180, 267), g.uniform(3, 6)):
        kind, _, t = shapes[i]
        mat = str(g.choice(mp.KINDS[kind][1] if g.random() < 0.8 else MATERIALS))
        rec = mp.record(f"{kind}{i}", q, t, mat, texture_seed=int(number * 100 + i))
        if mat in COLOURED and mat != "glass" and g.random() < 0.12:
            rec["rgb"] = tone_of(g)
        made.append(rec)
        if kind == "board" and g.random() < 0.9:
            made += mp.chips(g, q, t, f"{kind}{i}")
    return made


def scene(number, out, sheets, build=None):
    g = np.random.default_rng(90000 + number)
    focal = g.uniform(23, 42)
    tilt = abs(g.normal(0, 9)) if g.random() < 0.8 else g.uniform(0, 22)
    tilt = min(tilt, 22)
    far = g.uniform(10.2 + 0.12 * tilt, 12.5 + 0.12 * tilt) if g.random() < 0.75 else g.uniform(12.5, 22)
    sheet = str(g.choice(sheets))
    if number >= CARDS_FROM:
        far, made = g.uniform(10.6 + 0.1 * tilt, 12.4 + 0.1 * tilt), usual_parts(g, number)
    elif number >= HULLS_FROM:
        far, made = g.uniform(10.6 + 0.1 * tilt, 12.4 + 0.1 * tilt), hull_parts(g, number, out)
    elif number >= METALS_FROM:
        far, made = g.uniform(10.6 + 0.1 * tilt, 12.4 + 0.1 * tilt), metal_parts(g, number)
    elif number >= STEPPED_FROM:
        far, made = g.uniform(10.6 + 0.1 * tilt, 12.4 + 0.1 * tilt), stepped_parts(g, number, out)
    elif number >= USUAL_FROM:
        far, made = g.uniform(10.6 + 0.1 * tilt, 12.4 + 0.1 * tilt), usual_parts(g, number)
    elif number >= BUILT_FROM:
        made = built_parts(g, number, out, build)
    else:
        made = parts(g, number, out)
    shares = [0.1, 0.4, 0.4, 0.1] if METALS_FROM <= number < HULLS_FROM else [0.22, 0.3, 0.26, 0.22]
    spec = {"sheet": {"png": sheet, "size_mm": [210, 297]}, "parts": made,
            "camera": {"focal_35mm": focal, "height_mm": focal * far, "tilt_deg": tilt, "tilt_dir_deg": g.uniform(-180, 180),
                       "roll_deg": float(g.choice([90, 90, 270])) + g.normal(0, 4), "k1": g.uniform(-0.1, 0.06), "k2": g.uniform(-0.04, 0.04),
                       "look_at_mm": [105 + g.normal(0, 4), 148.5 + g.normal(0, 4)], "blur_px": g.uniform(0.35, 0.8), "ev": g.uniform(-0.5, 0.2),
                       "full_well_e": float(g.choice([5000, 5000, 2500, 9000])), "sharpen": float(g.choice([0.4, 0.4, 0.0, 0.7])),
                       "wb": g.uniform(0.6, 1.0), "vignetting": g.uniform(0.1, 0.4), "phone_silhouette": bool(g.random() < 0.9)},
            "lights": {"preset": str(g.choice(["window", "two_lamps", "harsh", "ceiling"], p=shares)), "azimuth_deg": g.uniform(0, 360),
                       "fill": float(np.exp(g.normal(0, 0.4))), "offset_mm": [g.normal(0, 60), g.normal(0, 60), g.normal(0, 40)]},
            "table": {"rgb": [int(v) for v in g.uniform(30, 215) + g.normal(0, 20, 3).clip(-30, 30)], "grain": 0.25}, "seed": int(number)}
    if g.random() < 0.5:
        spec["lights"]["offset_mm"], spec["lights"]["fill"] = [0, 0, 0], 1.0
    if g.random() < (0.6 if number >= CARDS_FROM else 0.18):    # a coloured card that covers the field
        grey = [int(v) for v in g.uniform(20, 200) + g.normal(0, 6, 3)]
        spec["backing"] = {"rgb": grey if g.random() < 0.4 else [int(v) for v in g.uniform(20, 225, 3)],
                           "rect_mm": [28 - g.uniform(0, 2), 28 - g.uniform(0, 2), 182 + g.uniform(0, 2), 269 + g.uniform(0, 2)]}
    return spec


def seen_again(spec, number, view):
    """The same parts, every other time turned half round, under the same kind of light from elsewhere, seen from another place: such a
    photo costs half of a new scene's, since nothing is compiled anew."""
    g = np.random.default_rng([number, view])
    spec = json.loads(json.dumps(spec))
    camera, lights = spec["camera"], spec["lights"]
    focal, tilt = g.uniform(23, 42), min(abs(g.normal(0, 9)), 22)
    camera |= {"focal_35mm": focal, "height_mm": focal * g.uniform(10.6 + 0.1 * tilt, 12.4 + 0.1 * tilt), "tilt_deg": tilt,
               "tilt_dir_deg": g.uniform(-180, 180), "roll_deg": float(g.choice([90, 270])) + g.normal(0, 4),
               "look_at_mm": [105 + g.normal(0, 4), 148.5 + g.normal(0, 4)], "ev": g.uniform(-0.5, 0.2)}
    lights |= {"azimuth_deg": g.uniform(0, 360), "fill": float(np.exp(g.normal(0, 0.4))),
               "offset_mm": [g.normal(0, 60), g.normal(0, 60), g.normal(0, 40)]}
    spec["seed"] = int(number + 1000 * view)
    if view % 2:
        width, height = spec["sheet"]["size_mm"]
        for part in spec["parts"]:
            if pose := part.get("pose"):
                pose |= {"x": width - pose["x"], "y": height - pose["y"], "turn_deg": pose["turn_deg"] + 180}
            else:
                turned = lambda ring: [[width - x, height - y] for x, y in ring]
                part |= {"outline": turned(part["outline"]), "holes": [turned(h) for h in part["holes"]]}
    return spec


def trace_sheet(simulate, quality):
    """The simulator's tracer, told to trace only the pixels round the sheet, its rim with the tags at one sample a pixel:
    nothing else is learnt from. `quality`: the denoiser's."""
    whole, dr, mi = simulate.trace, simulate.dr, simulate.mi
    plain = mi.Float

    def rays(cam, x, y, lens=None):
        """As the simulator's, with the camera's numbers as data, as the lamps' places are: written into the kernels, these would be
        compiled anew for each photo."""
        data = lambda v: dr.opaque(plain, float(v))
        f, cx, cy, k1, k2 = map(data, (cam.K[0, 0], *cam.K[:2, 2], *cam.dist[:2]))
        xd, yd = (x - cx) / f, (y - cy) / f
        rd = dr.sqrt(xd * xd + yd * yd)
        ru = plain(rd)
        for _ in range(6):
            r2 = ru * ru
            ru -= (ru * (1 + r2 * (k1 + k2 * r2)) - rd) / (1 + r2 * (3 * k1 + 5 * k2 * r2))
        s = dr.select(rd > 1e-9, ru / dr.maximum(rd, 1e-9), 1.0)
        d, o = mi.Vector3f(xd * s, yd * s, 1.0), mi.Point3f(0.0)
        if lens is not None:
            o = mi.Point3f(lens.x, lens.y, 0.0) * data(cam.spec["aperture_mm"] / 2)
            d = d * data(cam.focus) - mi.Vector3f(o)
        turned = lambda v: [sum(data(cam.R[k, i]) * v[k] for k in range(3)) for i in range(3)]
        at = [data(v) for v in cam.C]
        return mi.Ray3f(mi.Point3f(*turned(o)) + mi.Point3f(*at), dr.normalize(mi.Vector3f(*turned(d))))
    simulate.Camera.rays = rays
    build = simulate.build

    def build_as_data(*arguments):
        scene, *rest = build(*arguments)
        values = mi.traverse(scene)
        for key in [k for k in values.keys() if k.endswith("to_world")]:
            place = values[key]
            dr.make_opaque(place)
            values[key] = place
        values.update()
        return scene, *rest
    simulate.build = build_as_data

    def rows_of(scene, cam, integ, spp, seed, clamp, out, x0, y0, x1, y1):
        width = x1 - x0
        sampler = mi.load_dict({"type": "multijitter", "sample_count": spp})
        spp = sampler.sample_count()
        sampler.set_samples_per_wavefront(spp)
        rows = max(1, 2**22 // (width * spp))
        for top in range(y0, y1, rows):
            tall = min(rows, y1 - top)
            n = tall * width * spp
            sampler.seed(dr.opaque(mi.UInt32, (seed * 65536 + top * 16 + x0 % 16) % 2**32), n)
            pix = dr.arange(mi.UInt32, n) // dr.opaque(mi.UInt32, spp)
            blur = mi.warp.square_to_std_normal(sampler.next_2d()) * dr.opaque(mi.Float, cam.spec["blur_px"])
            jit = sampler.next_2d() - 0.5 + blur
            wide = dr.opaque(mi.UInt32, width)
            x = mi.Float(pix % wide) + dr.opaque(mi.Float, x0) + jit.x
            y = mi.Float(pix // wide) + dr.opaque(mi.Float, top) + jit.y
            ray = cam.rays(x, y, mi.warp.square_to_uniform_disk_concentric(sampler.next_2d()))
            rgb, _, aovs = integ.sample(scene, sampler, ray, None, True)
            planes = [dr.select(dr.isfinite(c), dr.minimum(c, clamp), 0.0) for c in rgb] + list(aovs)[-6:]
            dr.eval(planes)
            for k, c in enumerate(planes):
                out[k, top:top + tall, x0:x1] = np.array(c).reshape(tall, width, spp).mean(2)

    def trace(scene, cam, spp, seed, clamp=1e9, denoise=False):
        if not denoise:
            return whole(scene, cam, min(spp, 4), seed, clamp, denoise)
        def window(lo, hi):
            px = cam.project(np.array([[x, y] for x in (lo, 105, 210 - lo) for y in (lo, 148.5, 297 - lo)]), 0)
            x0, y0 = (max(0, int(v) & ~1) for v in px.min(0))
            return x0, y0, min(cam.W, int(px[:, 0].max()) + 1), min(cam.H, int(px[:, 1].max()) + 1)
        x0, y0, x1, y1 = window(-2, 0)
        u0, v0, u1, v1 = window(26, 0)                     # parts lie within
        integ = mi.load_dict({"type": "aov", "aovs": "a:albedo,n:sh_normal", "img": {"type": "path", "max_depth": 5, "rr_depth": 4}})
        out, clamp = np.zeros((9, cam.H, cam.W), np.float32), dr.opaque(mi.Float, clamp)
        for box_, n in (((x0, y0, x1, v0), 1), ((x0, v1, x1, y1), 1), ((x0, v0, u0, v1), 1), ((u1, v0, x1, v1), 1), ((u0, v0, u1, v1), spp)):
            if box_[2] > box_[0] and box_[3] > box_[1]:
                rows_of(scene, cam, integ, n, seed, clamp, out, *box_)
        colour, albedo, normal = (np.ascontiguousarray(np.moveaxis(out[k:k + 3, y0:y1, x0:x1], 0, 2)) for k in (0, 3, 6))
        full = np.zeros((cam.H, cam.W, 3), np.float32)
        full[y0:y1, x0:x1] = simulate.pyoidn.denoise(colour, albedo=albedo, normal=normal, hdr=True, quality=quality)
        return full
    simulate.trace = trace


def halved(sheet, out):
    """A sheet's picture with two by two pixels as one, beside the scenes."""
    picture = Image.open(sheet).convert("RGB")
    path = out / f"half-{sheet.name}"
    picture.resize([n // 2 for n in picture.size], Image.Resampling.BOX).save(path)
    return path


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("first", type=int)
    ap.add_argument("count", type=int)
    ap.add_argument("-o", "--out", type=Path, required=True)
    ap.add_argument("--sheets", nargs="+", required=True)
    ap.add_argument("--build", type=Path, help="what ../studio/layout.py wrote, for scenes from 500 on")
    ap.add_argument("--views", type=int, default=1, choices=range(1, 9), help="photos of each scene, under other lights from other places")
    ap.add_argument("--spp", default="4")
    ap.add_argument("--half", action="store_true", help="photos of half the size, as a wide eye sees them, in half the time")
    a = ap.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    if a.half:
        a.sheets = [halved(Path(s), a.out) for s in a.sheets]
    for n in range(a.first, a.first + a.count):
        try:
            spec = scene(n, a.out, [str(Path(s).resolve()) for s in a.sheets], a.build)
        except Exception as e:
            print("scene", n, "failed:", repr(e), flush=True)
            continue
        if a.half:                                    # as if pixels had been averaged two by two
            camera = spec["camera"]
            camera["blur_px"] *= 0.5
            camera["sharpen"] *= 0.3
            camera["full_well_e"] *= 4
            spec["table"]["grain"] = 0
        for view in range(a.views):
            path = a.out / f"s{n:04d}{'abcdefgh'[view - 1] if view else ''}.json"
            path.write_text(json.dumps(seen_again(spec, n, view) if view else spec))
            # Each in a process of its own: in one that has drawn a scene before, other kernels would have to be compiled.
            photo = multiprocessing.Process(target=photograph, args=(path, a))
            photo.start()
            photo.join()


def photograph(path, a):
    import simulate
    # Photos of half the size are joined cells: they need no better denoiser.
    trace_sheet(simulate, "fast" if a.half else "high")
    sys.argv = ["simulate.py", str(path), "-o", str(a.out), "--mask", "--spp", a.spp, "--scale", "0.5" if a.half else "1"]
    try:
        simulate.main()
    except (Exception, SystemExit) as e:
        print(path.stem, "failed:", repr(e), flush=True)


if __name__ == "__main__":
    main()
