#!/usr/bin/env python3
"""Render the scenes of devices.py, one after the other, sheets of parts first.

    python render.py BUILD -o OUT [--scale 0.5] [--spp 4] [--only NAME,NAME]

Wants the packages of studio/requirements.txt. What is there already is kept, so that a run that was stopped goes on. One process
for all: the kernels that Mitsuba makes for one scene often serve the next.
"""
import argparse, json, sys, time
from pathlib import Path
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "studio"))
import simulate  # noqa: E402


def shoot(path, out, scale, spp):
    spec, base, t0 = json.loads(path.read_text()), path.parent, time.time()
    size, seed = spec["sheet"]["size_mm"], spec["seed"]
    cam = simulate.Camera(spec["camera"], size, scale)
    scene, _, truths = simulate.build(spec, base, cam, size)
    small = simulate.Camera(spec["camera"], size, 240 / cam.spec["size_px"][0])
    # The same integrator as the picture's, so that one kernel serves both.
    pre = simulate.trace(scene, small, spp, seed + 1, denoise=True).reshape(-1, 3)
    lum = pre.mean(1)
    white = np.median(pre[(lum > np.percentile(lum, 75)) & (lum < np.percentile(lum, 97))], 0)
    exposure, gains = 0.70 / white.mean() * 2 ** cam.spec["ev"], (white.mean() / white) ** cam.spec["wb"]
    t1 = time.time()
    lin = simulate.trace(scene, cam, spp, seed, 8 / exposure, True)
    img = simulate.develop(lin, cam, exposure, gains, np.random.default_rng(seed))
    simulate.save_jpeg(str(out / f"{path.stem}.jpg"), img, cam.spec, spec.get("limit_kb"))
    keep = {"image": f"{path.stem}.jpg", "camera": {"K": cam.K.tolist(), "dist_k1k2p1p2k3": cam.dist.tolist(), "R": cam.R.tolist(), "t": cam.t.tolist(),
            "position_mm": cam.C.tolist(), "size_px": [cam.W, cam.H], "height_mm": cam.spec["height_mm"], "tilt_deg": cam.spec["tilt_deg"]},
            "lights": spec["lights"], "seed": seed, "spp": spp, "parts": len(truths)}
    (out / f"{path.stem}.truth.json").write_text(json.dumps(keep) + "\n")
    print(f"{path.stem}: {cam.W}x{cam.H}, set-up {t1 - t0:.0f} s, picture {time.time() - t1:.0f} s", flush=True)


def stems_of(build, names):
    """Each device's sheets and the stages that show most; the rest of the stages after all devices."""
    truths = [json.loads((build / f"{name}.truth.json").read_text()) for name in names]
    for truth in truths:
        yield from (s["image"][:-4] for s in truth["sheets"])
        for k in (1, 3, 0):
            yield from (i["image"][:-4] for i in truth["inside"] if i["stage"] == k)
    for truth in truths:
        yield from (i["image"][:-4] for i in truth["inside"] if i["stage"] not in (0, 1, 3))


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("build", type=Path)
    ap.add_argument("-o", "--out", type=Path, required=True)
    ap.add_argument("--scale", type=float, default=0.5)
    ap.add_argument("--spp", type=int, default=4)
    ap.add_argument("--only", help="devices, in this order (comma list)")
    a = ap.parse_args()
    a.out.mkdir(parents=True, exist_ok=True)
    names = a.only.split(",") if a.only else [p.name.split(".")[0] for p in sorted(a.build.glob("*.truth.json"))]
    for stem in stems_of(a.build, names):
        if not (a.out / f"{stem}.truth.json").exists():
            shoot(a.build / f"{stem}.json", a.out, a.scale, a.spp)


if __name__ == "__main__":
    main()
