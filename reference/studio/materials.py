"""Material presets and their procedural textures.  Call after mitsuba's variant is set."""
import cv2
import mitsuba as mi
import numpy as np

PPM = 16                                                # procedural texture resolution, pixels per mm


SRGB = np.arange(256, dtype=np.float32) / 255
SRGB = np.where(SRGB <= 0.04045, SRGB / 12.92, ((SRGB + 0.055) / 1.055) ** 2.4).astype(np.float32)


def linear(rgb):
    return SRGB[np.asarray(rgb, np.uint8)]


def bitmap(lin):
    return {"type": "bitmap", "data": mi.TensorXf(lin), "raw": True, "format": "fp16", "wrap_mode": "clamp"}


def flat(value):
    return {"type": "rgb", "value": [float(v) for v in value]}


def grain(rng, h, w, stretch, amount):
    n = cv2.GaussianBlur(rng.standard_normal((h, w)).astype(np.float32), (0, 0), sigmaX=stretch, sigmaY=0.7)
    return np.clip(1 + amount * n / n.std(), 0.2, 1.8)[..., None]


def raster(rings):
    """Filled mask of the outline in texture pixels (row 0 = largest y)."""
    lo, size = rings[0].min(0), np.ptp(rings[0], axis=0)
    w, h = np.ceil(size * PPM).astype(int)
    img = np.zeros((h, w), np.uint8)
    to_px = lambda r: np.round(np.column_stack([r[:, 0] - lo[0], lo[1] + size[1] - r[:, 1]]) * PPM).astype(np.int32)
    cv2.fillPoly(img, [to_px(r) for r in rings], 255)
    return img


def pcb_texture(rings, rng):
    """Green solder mask: traces, vias, pad rows, small two-pad passives and white legend marks."""
    inside = raster(rings)
    h, w = inside.shape
    img = np.empty((h, w, 3), np.uint8)
    img[:] = (16, 78, 46)
    for _ in range(int(h * w / PPM**2 / 6) + 8):        # traces: straight, then a 45 degree jog
        p, run, s = rng.integers(0, (w, h)), rng.integers(2, 14) * PPM, rng.choice([-1, 1], 2)
        q = p + (run * s[0], 0) if rng.random() < 0.5 else p + (0, run * s[1])
        cv2.polylines(img, [np.array([p, q, q + s * PPM * 2], np.int32)], False, (30, 104, 62), rng.integers(2, 6))
        cv2.circle(img, [int(v) for v in p], 5, (190, 170, 110), -1)
        cv2.circle(img, [int(v) for v in p], 2, (40, 40, 30), -1)
    for _ in range(int(h * w / PPM**2 / 14) + 4):       # passives and pad rows
        x, y = (int(v) for v in rng.integers(0, (w, h)))
        if rng.random() < 0.75:
            l, t = int(rng.integers(14, 30)), int(rng.integers(8, 15))
            l2, t2 = (l, t) if rng.random() < 0.5 else (t, l)
            cv2.rectangle(img, (x, y), (x + l2, y + t2), (205, 203, 196), -1)
            m = (l2 // 4, 0) if l2 > t2 else (0, t2 // 4)
            cv2.rectangle(img, (x + m[0], y), (x + l2 - m[0], y + t2) if m[0] else (x + l2, y + t2 - m[1]),
                          [(120, 88, 60), (28, 28, 30)][rng.integers(2)], -1)
        else:
            for i in range(rng.integers(4, 14)):
                cv2.rectangle(img, (x + i * 10, y), (x + i * 10 + 5, y + 18), (214, 178, 96), -1)
        cv2.putText(img, f"{'RCLU'[rng.integers(4)]}{rng.integers(1, 99)}", (x, y - 4), 0, 0.35, (225, 228, 220), 1)
    edge = cv2.distanceTransform(cv2.copyMakeBorder(inside, 1, 1, 1, 1, cv2.BORDER_CONSTANT), cv2.DIST_L2, 5)
    img[edge[1:-1, 1:-1] < 0.35 * PPM] = (20, 70, 40)   # bare rim of solder mask
    return img


def flex_texture(rings, rng):
    """Amber polyimide whose copper traces run parallel to the edge."""
    d = cv2.distanceTransform(cv2.copyMakeBorder(raster(rings), 1, 1, 1, 1, cv2.BORDER_CONSTANT), cv2.DIST_L2, 5)
    d = d[1:-1, 1:-1] / PPM
    img = np.empty((*d.shape, 3), np.uint8)
    img[:] = (206, 132, 38)
    img[(d > 0.45) & (np.mod(d, 0.6) < 0.33)] = (176, 96, 26)
    return img


def material(name, texture=None, rings=None, seed=0, rgb=None, side=False, rng=None, **kw):
    rng = rng or np.random.default_rng(seed)
    if texture is None and not side and name in ("pcb", "flex"):
        texture = {"pcb": pcb_texture, "flex": flex_texture}[name](rings, rng)
    colour = lambda default: (bitmap(linear(texture)) if texture is not None else
                              flat(linear(rgb)) if rgb is not None else flat(default))
    metal = lambda kind, u, v: {"type": "roughconductor", "material": kind, "alpha_u": u, "alpha_v": v}
    if name == "paper":                                 # toner black to paper white
        body = {"type": "diffuse", "reflectance": bitmap(0.035 + 0.80 * linear(texture))}
    elif name == "table":
        tone = grain(rng, 3000, 3000, 70, kw.get("grain", 0.0)) if kw.get("grain") else np.ones((2, 2, 1), np.float32)
        body = {"type": "roughplastic", "diffuse_reflectance": bitmap(np.minimum(linear(rgb) * tone, 0.95)), "alpha": 0.3}
    elif name == "aluminium":
        body = metal("Al", 0.10, 0.32)
        if rings is not None:                           # brushed along the part's x direction
            w, h = np.ceil(np.ptp(rings[0], axis=0) * PPM).astype(int)
            body["specular_reflectance"] = bitmap(0.85 * grain(rng, h, w, 60, 0.07).repeat(3, 2).astype(np.float32))
    elif name in ("copper", "shield"):
        body = metal("Cu" if name == "copper" else "Ag", 0.14, 0.14)
        if name == "shield":
            body["specular_reflectance"] = flat((0.74, 0.72, 0.67))
    elif name == "glass":
        body = {"type": "plastic", "diffuse_reflectance": colour((0.006, 0.006, 0.008))}
    elif name == "clearcoat_grey":
        body = {"type": "principled", "base_color": colour((0.16, 0.17, 0.18)), "metallic": 0.5, "roughness": 0.45,
                "clearcoat": 1.0, "clearcoat_gloss": 0.93}
    else:
        diffuse, alpha = {"black_plastic": ((0.022, 0.022, 0.024), 0.35), "white_plastic": ((0.74, 0.74, 0.72), 0.30),
                          "pcb": ((0.20, 0.19, 0.09), 0.12), "flex": ((0.55, 0.22, 0.02), 0.15),
                          "card": ((0.3, 0.3, 0.3), 0.5)}[name]
        body = {"type": "roughplastic", "diffuse_reflectance": colour(diffuse), "alpha": alpha}
    if name in ("aluminium", "copper", "shield") and texture is not None:
        body["specular_reflectance"] = bitmap(linear(texture))
    return mi.load_dict({"type": "twosided", "bsdf": body})


def surface(maps=None, rgb=None, rough=0.5, metal=0.0, specular=0.5, clearcoat=0.0):
    """A surface with roughness and metalness of its own: plain, or drawn.

    `maps` may hold `texture` (sRGB colours), `props` (red: roughness, green: metalness) and `bump` (16-bit heights, spread over
    `bump_mm`; it changes shading only), file names relative to `base`; or `rgb`, a picture already in memory.
    """
    maps = maps or {}
    load = lambda key: cv2.imread(str(maps["base"] / maps[key]), cv2.IMREAD_UNCHANGED)
    grey = lambda v: {**bitmap(np.ascontiguousarray(v[..., None], np.float32)), "filter_type": "bilinear"}
    colour = maps["rgb"] if "rgb" in maps else load("texture")[..., ::-1] if "texture" in maps else None
    body = {"type": "principled", "base_color": flat(linear(rgb)) if colour is None else bitmap(linear(colour)),
            "roughness": float(rough), "metallic": float(metal), "specular": float(specular)}
    if clearcoat:
        body |= {"clearcoat": float(clearcoat), "clearcoat_gloss": 0.95}
    if "props" in maps:
        props = load("props").astype(np.float32) / 255
        body |= {"roughness": grey(props[..., 2]), "metallic": grey(props[..., 1])}
    if "bump" in maps:
        lo, hi = maps["bump_mm"]
        height = bitmap((lo + (hi - lo) * load("bump").astype(np.float32) / 65535)[..., None])
        body = {"type": "bumpmap", "arbitrary": {**height, "format": "variant"}, "scale": 1.0, "bsdf": body}
    return mi.load_dict({"type": "twosided", "bsdf": body})
