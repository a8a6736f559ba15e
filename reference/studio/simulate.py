#!/usr/bin/env python3
"""Photo simulator: path-trace thin parts lying on a printed sheet, with exact ground truth.

World frame: millimetres, origin at the sheet's lower-left corner, x right, y up the sheet, z towards
the camera; the sheet's printed face is z = 0.  Camera frame and pixel frame follow OpenCV.
"""
import argparse, glob, json, os, re, time
from pathlib import Path
import cv2
import mapbox_earcut
import numpy as np
import pyoidn
from PIL import Image, TiffImagePlugin
from shapely.geometry import Polygon

if "DRJIT_LIBLLVM_PATH" not in os.environ:          # Dr.Jit needs a recent LLVM (19 tested; 15 aborts)
    libs = [(int(m.group(1)), f) for f in glob.glob("/usr/lib/*/libLLVM*.so*")
            if (m := re.search(r"(?:LLVM-|so\.)(\d+)", f))]
    if libs:
        os.environ["DRJIT_LIBLLVM_PATH"] = max(libs)[1]
import drjit as dr
import mitsuba as mi
mi.set_variant("llvm_ad_rgb")
from materials import material, surface  # noqa: E402  (needs the variant)

DIAG_35MM = 43.2666            # diagonal of a 36 x 24 mm frame; CIPA's "35 mm equivalent" uses diagonals
CAMERA = dict(focal_35mm=26.0, size_px=[4032, 3024], height_mm=380.0, tilt_deg=0.0, tilt_dir_deg=-90.0,
              roll_deg=90.0, look_at_mm=None, principal_offset_px=[0.0, 0.0], k1=0.0, k2=0.0, crop_factor=6.0,
              aperture_mm=1.6, focus_offset_mm=0.0, blur_px=0.45, vignetting=0.25, full_well_e=5000.0,
              read_noise_e=4.0, bayer=True, sharpen=0.4, ev=0.0, wb=0.85, phone_silhouette=True)

# name: (sky fill radiance, [(shape, centre offset from the sheet's middle, size mm, linear rgb, radiance, share)])
LIGHTS = {
    "window": (0.20, [("rect", (-1500, 500, 1000), (1200, 1500), (0.90, 0.97, 1.10), 10.0, 0.79)]),
    "two_lamps": (0.14, [("rect", (-480, 160, 520), (85, 85), (1.20, 1.00, 0.70), 230.0, 0.54),
                         ("rect", (430, 260, 470), (85, 85), (1.15, 1.00, 0.78), 150.0, 0.36)]),
    "harsh": (0.07, [("sphere", (-330, 330, 560), 5.0, (1.05, 1.00, 0.92), 25000.0, 0.93)]),
    "ceiling": (0.25, [("rect", (180, -60, 2100), (1200, 600), (0.97, 1.00, 1.03), 12.0, 0.62)]),
}


# ---------------------------------------------------------------- camera
class Camera:
    def __init__(self, spec, sheet_size, scale):
        c = self.spec = {**CAMERA, **spec}
        self.W, self.H = (max(8, round(v * scale)) for v in c["size_px"])
        f = c["focal_35mm"] * np.hypot(self.W, self.H) / DIAG_35MM
        off = np.array(c["principal_offset_px"]) * scale
        self.K = np.array([[f, 0, (self.W - 1) / 2 + off[0]], [0, f, (self.H - 1) / 2 + off[1]], [0, 0, 1]])
        self.dist = np.array([c["k1"], c["k2"], 0.0, 0.0, 0.0])
        target = np.array([*(c["look_at_mm"] or np.array(sheet_size) / 2), 0.0])
        tilt, az, roll = np.radians([c["tilt_deg"], c["tilt_dir_deg"], c["roll_deg"]])
        side = np.array([np.cos(az), np.sin(az), 0.0])
        self.C = target + c["height_mm"] * (np.tan(tilt) * side + [0, 0, 1])
        fwd = (target - self.C) / np.linalg.norm(target - self.C)
        # tilt the straight-down camera (x right, y down the sheet) about the horizontal axis, then roll
        axis = np.cross([0.0, 0.0, -1.0], fwd)
        rot = cv2.Rodrigues(axis / max(np.linalg.norm(axis), 1e-12) * tilt)[0]
        right, down = rot @ [1, 0, 0], rot @ [0, -1, 0]
        cr, sr = np.cos(roll), np.sin(roll)
        self.R = np.stack([cr * right + sr * down, -sr * right + cr * down, fwd])
        self.t = -self.R @ self.C
        self.focus = np.linalg.norm(target - self.C) + c["focus_offset_mm"]
        corner = np.hypot(*(np.array([self.W, self.H]) / 2 + abs(off))) / f
        r = np.linspace(0, 3 * corner, 2000)
        rd = r * (1 + c["k1"] * r**2 + c["k2"] * r**4)
        if rd[np.argmax(np.append(np.diff(rd), -1) <= 0)] < corner:
            raise SystemExit("k1, k2 fold the image: the distortion cannot be inverted out to the corners")

    def project(self, xy, z):
        """Exact distorted pixel positions of sheet points (N,2) at height z."""
        p = np.column_stack([xy, np.full(len(xy), z)]).astype(float)
        return cv2.projectPoints(p, cv2.Rodrigues(self.R)[0], self.t, self.K, self.dist)[0].reshape(-1, 2)

    def rays(self, x, y, lens=None):
        """Rays through (distorted) pixel positions; lens = uniform disk samples for defocus or None."""
        f, cx, cy, k1, k2 = map(float, (self.K[0, 0], *self.K[:2, 2], *self.dist[:2]))   # numpy scalars would force evaluation
        xd, yd = (x - cx) / f, (y - cy) / f
        rd = dr.sqrt(xd * xd + yd * yd)
        ru = mi.Float(rd)
        for _ in range(6):                             # Newton: ru (1 + k1 ru^2 + k2 ru^4) = rd
            r2 = ru * ru
            ru -= (ru * (1 + r2 * (k1 + k2 * r2)) - rd) / (1 + r2 * (3 * k1 + 5 * k2 * r2))
        s = dr.select(rd > 1e-9, ru / dr.maximum(rd, 1e-9), 1.0)
        d = mi.Vector3f(xd * s, yd * s, 1.0)
        o = mi.Point3f(0.0)
        if lens is not None:
            o = mi.Point3f(lens.x, lens.y, 0.0) * (self.spec["aperture_mm"] / 2)
            d = d * self.focus - mi.Vector3f(o)
        M = mi.Matrix3f(self.R.T)
        return mi.Ray3f(mi.Point3f(M @ o) + mi.Point3f(self.C), dr.normalize(M @ d))


def trace(scene, cam, spp, seed, clamp=1e9, denoise=False):
    """Linear radiance (H,W,3).  Pixel box filter, lens blur and defocus are all sampled per ray."""
    path = {"type": "path", "max_depth": 5, "rr_depth": 4}
    integ = mi.load_dict({"type": "aov", "aovs": "a:albedo,n:sh_normal", "img": path} if denoise else path)
    sampler = mi.load_dict({"type": "multijitter", "sample_count": spp})
    spp = sampler.sample_count()
    sampler.set_samples_per_wavefront(spp)
    out = np.empty((9 if denoise else 3, cam.H, cam.W), np.float32)
    rows, clamp = max(1, 2**22 // (cam.W * spp)), dr.opaque(mi.Float, clamp)
    for y0 in range(0, cam.H, rows):
        h = min(rows, cam.H - y0)
        n = h * cam.W * spp
        sampler.seed(dr.opaque(mi.UInt32, seed * 65536 + y0), n)   # opaque: one kernel for all strips
        pix = dr.arange(mi.UInt32, n) // spp
        blur = mi.warp.square_to_std_normal(sampler.next_2d()) * cam.spec["blur_px"]
        jit = sampler.next_2d() - 0.5 + blur
        x = mi.Float(pix % cam.W) + jit.x
        y = mi.Float(pix // cam.W) + dr.opaque(mi.Float, y0) + jit.y
        ray = cam.rays(x, y, mi.warp.square_to_uniform_disk_concentric(sampler.next_2d()))
        rgb, _, aovs = integ.sample(scene, sampler, ray, None, True)
        planes = [dr.select(dr.isfinite(c), dr.minimum(c, clamp), 0.0) for c in rgb] + list(aovs)[-6:] * denoise
        dr.eval(planes)                                # once for all planes
        for k, c in enumerate(planes):
            out[k, y0:y0 + h] = np.array(dr.block_sum(c, spp)).reshape(h, cam.W) / spp
    colour, *guides = (np.ascontiguousarray(np.moveaxis(out[k:k + 3], 0, 2)) for k in range(0, len(out), 3))
    return pyoidn.denoise(colour, albedo=guides[0], normal=guides[1], hdr=True) if denoise else colour


def id_mask(scene, cam, owners):
    """Part number (1..) seen at each pixel centre through a pin-hole, 0 elsewhere."""
    idx = dr.arange(mi.UInt32, cam.W * cam.H)
    si = scene.ray_intersect(cam.rays(mi.Float(idx % cam.W), mi.Float(idx // cam.W)))
    out = mi.UInt32(0)
    for mesh, number in owners:
        out = dr.select(si.shape == mi.ShapePtr(mesh), number, out)
    return np.array(out).reshape(cam.H, cam.W).astype(np.uint8)


# ---------------------------------------------------------------- geometry
def oriented(part):
    """Rings with the material on their left: outline counter-clockwise, holes clockwise."""
    def ring(pts, ccw):
        p = np.asarray(pts, float)
        area = np.sum(p[:, 0] * np.roll(p[:, 1], -1) - p[:, 1] * np.roll(p[:, 0], -1))
        return p if (area > 0) == ccw else p[::-1]
    return [ring(part["outline"], True)] + [ring(h, False) for h in part.get("holes", [])]


def inset(ring, d):
    """Move every edge left by d; vertex count is kept (mitred)."""
    e = np.roll(ring, -1, 0) - ring
    n = np.column_stack([-e[:, 1], e[:, 0]]) / np.linalg.norm(e, axis=1)[:, None]
    m = np.roll(n, 1, 0)
    return ring + d * (n + m) / (1 + np.sum(n * m, 1))[:, None]


def safe_bevel(rings, bevel, thickness):
    b = min(bevel, 0.45 * thickness)
    while b > 0.005 and not Polygon(inset(rings[0], b), [inset(r, b) for r in rings[1:]]).is_valid:
        b *= 0.6
    return b if b > 0.005 else 0.0


def mesh(name, v, f, uv, bsdf):
    props = mi.Properties()
    props["mesh_bsdf"], props["face_normals"] = bsdf, True
    m = mi.Mesh(name, len(v), len(f), has_vertex_texcoords=True, props=props)
    p = mi.traverse(m)
    p["vertex_positions"], p["vertex_texcoords"] = np.ravel(v).astype(np.float32), np.ravel(uv).astype(np.float32)
    p["faces"] = np.ravel(f).astype(np.uint32)
    p.update()
    return m


def extrusion(part, rings, bevel):
    """Vertices and faces of (cap, sides): vertical walls, a rounded bevel in three facets, flat cap and underside."""
    z0, z1 = part["z"], part["z"] + part["thickness"]
    levels = [(z0, 0.0)] + [(z1 - bevel * (1 - np.sin(a)), bevel * (1 - np.cos(a)))
                            for a in (np.linspace(0, np.pi / 2, 4) if bevel else [0.0])]
    loops = [np.vstack([inset(r, d) for r in rings]) for _, d in levels]
    n, ends = len(loops[0]), np.cumsum([len(r) for r in rings]).astype(np.uint32)
    nxt = np.concatenate([np.roll(np.arange(e - len(r), e), -1) for r, e in zip(rings, ends)])
    i = np.arange(n)
    faces = []
    for k in range(len(levels) - 1):
        a, b = k * n, (k + 1) * n
        faces += [np.column_stack([a + i, a + nxt, b + nxt]), np.column_stack([a + i, b + nxt, b + i])]
    cap = mapbox_earcut.triangulate_float64(loops[-1], ends).reshape(-1, 3)
    p = loops[-1][cap]
    u, w = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    flip = u[:, 0] * w[:, 1] - u[:, 1] * w[:, 0] < 0
    cap[flip] = cap[flip][:, ::-1]
    side_v = np.vstack([np.column_stack([q, np.full(n, z)]) for q, (z, _) in zip(loops, levels)])
    return (side_v[-n:], cap), (side_v, np.vstack(faces + [cap[:, ::-1]]))


def turning(lathe, segments=144):
    """Vertices and faces of a turned body: the profile [[r, z], ...] runs from the outside up and inwards."""
    (cx, cy), prof = lathe["centre"], np.asarray(lathe["profile"], float)
    a = np.linspace(0, 2 * np.pi, lathe.get("segments", segments), endpoint=False)
    n, v, f = len(a), [], []
    for r, z in prof:
        v.append(np.column_stack([cx + r * np.cos(a), cy + r * np.sin(a), np.full(n, z)]))
    i, nxt = np.arange(n), np.roll(np.arange(n), -1)
    for k in range(len(prof) - 1):
        p, q = k * n, (k + 1) * n
        f += [np.column_stack([p + i, p + nxt, q + nxt]), np.column_stack([p + i, q + nxt, q + i])]
    return np.vstack(v), np.vstack(f)


def stand(pose, v):
    """Own coordinates -> sheet coordinates: turn about the own origin, then shift."""
    if not pose:
        return v
    a = np.radians(pose["turn_deg"])
    out = np.array(v, float)
    out[:, 0] = np.cos(a) * v[:, 0] - np.sin(a) * v[:, 1] + pose["x"]
    out[:, 1] = np.sin(a) * v[:, 0] + np.cos(a) * v[:, 1] + pose["y"]
    return out


def extrude(part, rings, bevel, cap_bsdf, side_bsdf):
    """(cap, sides) meshes of a plain part."""
    lo, size = rings[0].min(0), np.ptp(rings[0], axis=0)
    uv = lambda q: np.column_stack([(q[:, 0] - lo[0]) / size[0], 1 - (q[:, 1] - lo[1]) / size[1]])
    (cv, cf), (sv, sf) = extrusion(part, rings, bevel)
    pose = part.get("pose")
    return (mesh("cap", stand(pose, cv), cf, uv(cv), cap_bsdf), mesh("side", stand(pose, sv), sf, uv(sv), side_bsdf))


def slab_meshes(part, base):
    """Meshes of a part that is built from slabs and turned bodies, all their tops seen in one drawn face; and the bevel
    of the slab marked `edge`, the one that carries the part's outline to its top."""
    face, groups, edge_bevel = part["face"], {}, 0.0
    x0, y0, x1, y1 = face["box_mm"]
    uv = lambda q: np.column_stack([(q[:, 0] - x0) / (x1 - x0), 1 - (q[:, 1] - y0) / (y1 - y0)])
    def put(key, v, f):
        vs, fs = groups.setdefault(key, ([], []))
        fs.append(np.asarray(f) + sum(map(len, vs)))
        vs.append(v)
    key_of = lambda side: json.dumps(side, sort_keys=True)
    for slab in part["slabs"]:
        slab = {"bevel": 0.05, "holes": [], **slab}
        rings = oriented(slab)
        bevel = safe_bevel(rings, slab["bevel"], slab["thickness"])
        if slab.get("edge"):
            edge_bevel = bevel
        (cv, cf), (sv, sf) = extrusion(slab, rings, bevel)
        put("face" if not slab.get("plain") else key_of(slab["side"]), cv, cf)
        put(key_of(slab["side"]), sv, sf)
    for lathe in part.get("lathes", []):
        put("face" if not lathe.get("side") else key_of(lathe["side"]), *turning(lathe))
    out = []
    for key, (vs, fs) in groups.items():
        v = np.vstack(vs)
        bsdf = surface(maps={**face, "base": base}) if key == "face" else surface(**json.loads(key))
        out.append(mesh("face" if key == "face" else "side", stand(part.get("pose"), v), np.vstack(fs), uv(v), bsdf))
    return out, edge_bevel


def rectangle(lo, hi, z, bsdf):
    v = [[lo[0], lo[1], z], [hi[0], lo[1], z], [hi[0], hi[1], z], [lo[0], hi[1], z]]
    return mesh("rect", v, [[0, 1, 2], [0, 2, 3]], [[0, 1], [1, 1], [1, 0], [0, 0]], bsdf)


# ---------------------------------------------------------------- scene
def build(spec, base, cam, size):
    tex = np.asarray(Image.open(base / spec["sheet"]["png"]).convert("RGB"))
    if back := spec.get("backing"):                     # a thin coloured card, part of the z = 0 surface
        tex, (x0, y0, x1, y1) = tex.copy(), back["rect_mm"]
        sx, sy = tex.shape[1] / size[0], tex.shape[0] / size[1]
        tex[round((size[1] - y1) * sy):round((size[1] - y0) * sy), round(x0 * sx):round(x1 * sx)] = back["rgb"]
    table = spec.get("table", {"rgb": [120, 92, 66], "grain": 0.25})
    rng = np.random.default_rng(spec.get("seed", 0))
    mid = np.array(size) / 2
    scene = {"type": "scene",
             "sheet": rectangle((0, 0), size, 0.0, material("paper", texture=tex)),
             "table": rectangle(mid - 1500, mid + 1500, -0.25, material("table", rng=rng, **table))}
    if "png" in table:                                  # a drawn table top round the sheet
        pic, half = np.asarray(Image.open(base / table["png"]).convert("RGB")), np.array(table["size_mm"]) / 2
        scene["bench"] = rectangle(mid - half, mid + half, -0.2, surface(maps={"rgb": pic}, rough=0.42, specular=0.4))
    if cam.spec["phone_silhouette"]:                    # the photographer's phone, just behind the pupil
        to_world = mi.ScalarTransform4f(np.vstack([np.column_stack([cam.R.T, cam.C]), [0, 0, 0, 1]]))
        scene["phone"] = {"type": "rectangle", "bsdf": material("black_plastic"),
                          "to_world": to_world @ mi.ScalarTransform4f().translate([0, 30, -4]).scale([75, 38, 1])}
    owners, truths = [], []
    for k, part in enumerate(spec["parts"]):
        part = {"z": 0.0, "bevel": 0.15, "holes": [], **part}
        rings = oriented(part)
        if "slabs" in part:
            made, bevel = slab_meshes(part, base)
            for m in made:
                scene[f"part{k}_{len(owners)}"] = m
                owners.append((m, k + 1))
            truths.append(truth_of(part, k + 1, rings, bevel, cam))
            continue
        bevel = safe_bevel(rings, part["bevel"], part["thickness"])
        tex = part.get("top_texture") and np.asarray(Image.open(base / part["top_texture"]).convert("RGB"))
        args = dict(rings=rings, seed=part.get("texture_seed", k), rgb=part.get("rgb"))
        bsdf = material(part["material"], texture=tex, **args)
        side = bsdf if tex is None and part["material"] != "pcb" else material(part["material"], side=True, **args)
        for m in extrude(part, rings, bevel, bsdf, side):
            scene[f"part{k}_{len(owners)}"] = m
            owners.append((m, k + 1))
        truths.append(truth_of(part, k + 1, rings, bevel, cam))
    return mi.load_dict({**scene, **lighting(spec.get("lights", "window"), mid, rng)}), owners, truths


def lighting(light, mid, rng):
    light = {"preset": light} if isinstance(light, str) else light
    fill, lamps = LIGHTS[light["preset"]]
    place = mi.ScalarTransform4f().translate(np.array([*mid, 0]) + light.get("offset_mm", [0, 0, 0]))
    place, out = place.rotate([0, 0, 1], light.get("azimuth_deg", 0)), {}
    for k, (shape, at, dim, rgb, radiance, share) in enumerate(lamps):
        if shape == "sphere":
            form = {"type": "sphere", "radius": dim, "to_world": place @ mi.ScalarTransform4f().translate(at)}
        else:
            aim = mi.ScalarTransform4f().look_at(at, [0, 0, 0], [0.01, 1, 0.02])
            form = {"type": "rectangle", "to_world": place @ aim.scale([dim[0] / 2, dim[1] / 2, 1])}
        out[f"lamp{k}"] = {**form, "emitter": {"type": "area", "sampling_weight": share, "radiance": {
            "type": "rgb", "value": [radiance * c for c in rgb]}}}
    room = cv2.resize(rng.uniform(0.3, 1.7, (8, 16, 1)).repeat(3, 2), (128, 64), interpolation=cv2.INTER_CUBIC)
    room[40:] *= 0.02                                   # below the horizon nothing reaches the table top
    room = np.maximum(room, 0.01) * fill * light.get("fill", 1.0)
    out["room"] = {"type": "envmap", "bitmap": mi.Bitmap(room.astype(np.float32)),
                   "to_world": mi.ScalarTransform4f().rotate([1, 0, 0], 90), "sampling_weight": 1 - sum(l[-1] for l in lamps)}
    return out


def truth_of(part, number, rings, bevel, cam):
    rings = [stand(part.get("pose"), r) for r in rings]
    def px(loops, z):
        dense = [np.vstack([np.linspace(a, b, max(1, int(np.ceil(np.hypot(*(b - a)) / 2))), endpoint=False)
                            for a, b in zip(r, np.roll(r, -1, 0))]) for r in loops]
        return [np.round(cam.project(r, z), 2).tolist() for r in dense]
    top = part["z"] + part["thickness"]
    mm = [np.round(r, 5).tolist() for r in rings]
    return {"id": number, "name": part["name"], "on": part.get("on"), "material": part["material"],
            "outline_mm": mm[0], "holes_mm": mm[1:], "z_mm": part["z"],
            "thickness_mm": part["thickness"], "height_mm": part.get("height", part["thickness"]),
            "bevel_mm": round(bevel, 5), "rim_z_mm": round(top - bevel, 5), "rim_px": px(rings, top - bevel),
            "top_px": px([inset(r, bevel) for r in rings], top), "base_px": px(rings, part["z"])}


# ---------------------------------------------------------------- develop
def develop(lin, cam, exposure, gains, rng):
    """Linear radiance -> 8-bit sRGB: vignetting, Bayer mosaic, shot and read noise, sharpening, tone curve."""
    c = cam.spec
    y, x = np.mgrid[:cam.H, :cam.W].astype(np.float32)
    r2 = ((x - cam.K[0, 2])**2 + (y - cam.K[1, 2])**2) / (cam.W**2 + cam.H**2) * 4
    lin = lin * ((1 - c["vignetting"] * (0.7 * r2 + 0.3 * r2 * r2)) * exposure)[..., None]

    def noisy(v, gain):                                 # white-balance gains amplify the noise as in a camera
        e = np.clip(v / gain, 0, 4) * c["full_well_e"]
        e = e + rng.standard_normal(v.shape, dtype=np.float32) * np.sqrt(e + c["read_noise_e"]**2)
        return np.clip(e / c["full_well_e"] * gain, 0, 1.6)
    if c["bayer"]:
        g = np.array(gains, np.float32)
        cfa, gmap = np.empty(lin.shape[:2], np.float32), np.empty(lin.shape[:2], np.float32)
        for dy, dx, ch in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
            cfa[dy::2, dx::2], gmap[dy::2, dx::2] = lin[dy::2, dx::2, ch] * g[ch], g[ch]
        raw = (noisy(cfa, gmap) * 40000).astype(np.uint16)
        lin = cv2.cvtColor(raw, cv2.COLOR_BayerBG2RGB_EA).astype(np.float32) / 40000
    else:
        lin = noisy(lin * np.array(gains, np.float32), np.array(gains, np.float32))
    lin = np.where(lin > 0.75, 0.75 + 0.25 * (1 - np.exp((0.75 - lin) / 0.25)), lin)
    srgb = np.where(lin <= 0.0031308, 12.92 * lin, 1.055 * np.maximum(lin, 1e-6)**(1 / 2.4) - 0.055)
    if c["sharpen"]:
        srgb = srgb + c["sharpen"] * (srgb - cv2.GaussianBlur(srgb, (0, 0), 1.2))
    return np.clip(srgb * 255 + 0.5, 0, 255).astype(np.uint8)


def save_jpeg(path, img, c, limit_kb=None):
    """The best quality from 93 down to 88 whose file is no larger than limit_kb."""
    exif = Image.Exif()
    exif[0x010F], exif[0x0110], exif[0x0112] = "SIM", "SIM", 1
    exif[0x8769] = {0x920A: TiffImagePlugin.IFDRational(round(c["focal_35mm"] / c["crop_factor"] * 100), 100),
                    0xA405: round(c["focal_35mm"]), 0xA002: img.shape[1], 0xA003: img.shape[0]}
    for quality in range(93, 87, -1):
        Image.fromarray(img).save(path, quality=quality, exif=exif, optimize=True)
        if not limit_kb or os.path.getsize(path) <= limit_kb * 1000:
            return quality
    raise SystemExit(f"{path}: over {limit_kb} KB even at quality 88")


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("scene", type=Path)
    ap.add_argument("-o", "--out", type=Path, default=Path("."))
    ap.add_argument("--spp", type=int, default=None, help="samples per pixel (default: the scene's, else 8)")
    ap.add_argument("--scale", type=float, default=1.0, help="render a smaller draft, e.g. 0.25")
    ap.add_argument("--no-denoise", action="store_true", help="keep the path tracer's own grain")
    ap.add_argument("--mask", action="store_true", help="also write a PNG of part ids per pixel")
    a = ap.parse_args()
    spec, base, t0 = json.loads(a.scene.read_text()), a.scene.parent, time.time()
    parts = [json.loads((base / f).read_text())["parts"] for f in spec.get("parts_files", [])]
    spec["parts"] = sum(parts, []) + spec.get("parts", [])
    size, seed = spec["sheet"]["size_mm"], spec.get("seed", 0)
    cam = Camera(spec.get("camera", {}), size, a.scale)
    scene, owners, truths = build(spec, base, cam, size)
    small = Camera(spec.get("camera", {}), size, 240 / cam.spec["size_px"][0])
    pre = trace(scene, small, 16, seed + 1).reshape(-1, 3)   # meter the exposure and white balance
    lum = pre.mean(1)
    white = np.median(pre[(lum > np.percentile(lum, 75)) & (lum < np.percentile(lum, 97))], 0)
    exposure = 0.70 / white.mean() * 2 ** cam.spec["ev"]
    gains = (white.mean() / white) ** cam.spec["wb"]
    t1 = time.time()
    lin = trace(scene, cam, a.spp or spec.get("spp", 8), seed, 8 / exposure, spec.get("denoise", True) and not a.no_denoise)
    t2 = time.time()
    a.out.mkdir(parents=True, exist_ok=True)
    stem = a.out / a.scene.stem
    img = develop(lin, cam, exposure, gains, np.random.default_rng(seed))
    quality = save_jpeg(f"{stem}.jpg", img, cam.spec, spec.get("limit_kb"))
    if a.mask:
        Image.fromarray(id_mask(scene, cam, owners)).save(f"{stem}.mask.png")
    truth = {"image": f"{stem.name}.jpg", "units": "mm; px with pixel centres at integers, (0,0) = centre of the top-left",
             "jpeg_quality": quality, "seed": seed, "spp": a.spp or spec.get("spp", 8),
             "camera": {"K": cam.K.tolist(), "dist_k1k2p1p2k3": cam.dist.tolist(), "R": cam.R.tolist(),
                        "t": cam.t.tolist(), "position_mm": cam.C.tolist(), "size_px": [cam.W, cam.H], **{
                            k: cam.spec[k] for k in ("focal_35mm", "height_mm", "tilt_deg", "tilt_dir_deg", "roll_deg")}},
             "sheet": {"png": Path(spec["sheet"]["png"]).name, "size_mm": size}, "lights": spec.get("lights", "window"),
             "parts": truths}
    Path(f"{stem}.truth.json").write_text(json.dumps(truth, separators=(",", ":")) + "\n")
    print(f"{stem}.jpg: {cam.W}x{cam.H}, {len(truths)} parts; set-up {t1 - t0:.1f} s, trace {t2 - t1:.1f} s, "
          f"finish {time.time() - t2:.1f} s")


if __name__ == "__main__":
    main()
