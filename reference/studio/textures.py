"""Drawn faces: a canvas in the device's own millimetres with colour, roughness, metalness and relief, and its weather.

A face is the picture of a part seen straight from the front, over the bounding box of its outline. Heights of the slabs
that stand on the part are drawn into `height` so that dirt can gather where it would.
"""
import functools
import zlib
import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont
from shapely import affinity
from shapely.geometry import LineString, Point, box

PPM = 20                                                # pixels per mm
DEVICE = (-6.0, -6.0, 72.0, 130.0)                      # field in which the weather is one and the same for all parts
FONTS = {"sans": "DejaVuSansCondensed.ttf", "bold": "DejaVuSansCondensed-Bold.ttf", "mono": "DejaVuSansMono.ttf",
         "mark": "URWGothic-Demi.otf", "book": "URWGothic-Book.otf", "seg": "DejaVuSansMono-Bold.ttf"}
FOLDERS = ("", "/usr/share/fonts/truetype/dejavu/", "/usr/share/fonts/opentype/urw-base35/")


@functools.lru_cache(None)
def font(name, px):
    for folder in FOLDERS:
        try:
            return ImageFont.truetype(folder + FONTS[name], px)
        except OSError:
            pass
    raise SystemExit(f"font {FONTS[name]} not found: install fonts-dejavu-core, fonts-dejavu-extra and fonts-urw-base35")


def smoothstep(lo, hi, v):
    t = np.clip((v - lo) / (hi - lo), 0, 1)
    return t * t * (3 - 2 * t)


def srgb(rgb):
    return np.array(rgb, np.float32) / 255


@functools.lru_cache(64)
def _noise(seed, scale_mm, octaves):
    """Fractal noise over the device's field, mean 0, deviation 1, at 4 pixels per mm."""
    w, h = int((DEVICE[2] - DEVICE[0]) * 4), int((DEVICE[3] - DEVICE[1]) * 4)
    g, out, weight = np.random.default_rng(zlib.crc32(seed.encode())), np.zeros((h, w), np.float32), 1.0
    for k in range(octaves):
        s = max(0.3, scale_mm * 4 / 2**k)
        n = cv2.GaussianBlur(g.standard_normal((h, w)).astype(np.float32), (0, 0), s / 2)
        out += weight * n / n.std()
        weight *= 0.55
    return out / out.std()


class Canvas:
    def __init__(self, box_mm, rgb, rough=0.5, metal=0.0, ppm=PPM, seed=0):
        self.box, self.ppm = tuple(map(float, box_mm)), ppm
        x0, y0, x1, y1 = self.box
        self.w, self.h = int(np.ceil((x1 - x0) * ppm)), int(np.ceil((y1 - y0) * ppm))
        self.sx, self.sy = self.w / (x1 - x0), self.h / (y1 - y0)
        self.rgb = np.empty((self.h, self.w, 3), np.float32)
        self.rgb[:] = srgb(rgb)
        self.rough = np.full((self.h, self.w), rough, np.float32)
        self.metal = np.full((self.h, self.w), metal, np.float32)
        self.bump = np.zeros((self.h, self.w), np.float32)
        self.height = np.zeros((self.h, self.w), np.float32)
        self.g = np.random.default_rng(seed)

    # ---------------------------------------------------------------- drawing
    def px(self, pts):
        p = np.asarray(pts, float)
        return np.column_stack([(p[:, 0] - self.box[0]) * self.sx, (self.box[3] - p[:, 1]) * self.sy])

    def mask(self, geom):
        """(rows, cols, coverage 0..1) of a geometry, cropped to it; None where it is off the canvas."""
        if geom.is_empty:
            return None
        bx0, by0, bx1, by1 = geom.bounds
        (l, t), (r, b) = self.px([(bx0, by1), (bx1, by0)])
        l, t = max(0, int(l) - 2), max(0, int(t) - 2)
        r, b = min(self.w, int(r) + 3), min(self.h, int(b) + 3)
        if r <= l or b <= t:
            return None
        big = np.zeros(((b - t) * 2, (r - l) * 2), np.uint8)
        for poly in getattr(geom, "geoms", [geom]):
            if poly.geom_type != "Polygon":
                continue
            rings = [np.round(((self.px(q.coords) - (l, t)) * 2 - 0.5) * 16).astype(np.int32)
                     for q in (poly.exterior, *poly.interiors)]
            one = np.zeros_like(big)
            cv2.fillPoly(one, rings, 255, cv2.LINE_8, 4)
            big = np.maximum(big, one)
        m = big.reshape(b - t, 2, r - l, 2).mean((1, 3)).astype(np.float32) / 255
        return slice(t, b), slice(l, r), m

    def lay(self, where, rgb=None, rough=None, metal=None, bump=0.0, a=1.0):
        rows, cols, m = where
        m = m * a
        if rgb is not None:
            v = self.rgb[rows, cols]
            v += (srgb(rgb) - v) * m[..., None]
        for key, value in (("rough", rough), ("metal", metal)):
            if value is not None:
                v = getattr(self, key)[rows, cols]
                v += (value - v) * m
        if bump:
            self.bump[rows, cols] += bump * m

    def paint(self, geom, rgb=None, soft=0.0, **how):
        if soft:
            geom = geom.buffer(0)
            where = self.mask(geom.buffer(soft * 2))
            if where is None:
                return
            rows, cols, _ = where
            full = self.mask(geom)
            m = np.zeros((rows.stop - rows.start, cols.stop - cols.start), np.float32)
            if full is not None:
                m[full[0].start - rows.start:full[0].stop - rows.start, full[1].start - cols.start:full[1].stop - cols.start] = full[2]
            where = rows, cols, cv2.GaussianBlur(m, (0, 0), soft * self.ppm)
        else:
            where = self.mask(geom)
        if where is not None:
            self.lay(where, rgb, **how)

    def line(self, pts, width, rgb=None, **how):
        self.paint(LineString(pts).buffer(width / 2, quad_segs=4), rgb, **how)

    def disk(self, x, y, r, rgb=None, **how):
        self.paint(Point(x, y).buffer(r, quad_segs=12), rgb, **how)

    def rect(self, x, y, w, h, rgb=None, r=0.0, turn=0.0, **how):
        """A rectangle about its centre."""
        p = box(x - w / 2 + r, y - h / 2 + r, x + w / 2 - r, y + h / 2 - r)
        p = p.buffer(r, quad_segs=6) if r else p
        self.paint(affinity.rotate(p, turn, origin=(x, y)) if turn else p, rgb, **how)

    def text(self, x, y, words, size, rgb=None, face="sans", anchor="mm", turn=0.0, spacing=0.0, **how):
        """Words whose capitals are about `size` mm high."""
        k = 2
        f = font(face, max(4, int(round(size * self.ppm * k * 1.38))))
        if spacing:
            adv = [f.getlength(c) + spacing * self.ppm * k for c in words]
            w = int(sum(adv)) + 8
        else:
            w = int(f.getlength(words)) + 8
        h = int(f.size * 1.6)
        img = Image.new("L", (w, h), 0)
        d = ImageDraw.Draw(img)
        if spacing:
            u = 4.0
            for c, step in zip(words, adv):
                d.text((u, h / 2), c, 255, f, "lm")
                u += step
        else:
            d.text((w / 2, h / 2), words, 255, f, "mm")
        off = {"l": w / 2, "m": 0, "r": -w / 2}[anchor[0]]
        m = np.asarray(img, np.float32) / 255
        cx, cy = self.px([(x, y)])[0]
        a = np.radians(turn)
        # target pixel -> source pixel of the words' picture
        ext = int(np.hypot(w, h) / k / 2 + w / k / 2) + 4
        l, t, r, b = max(0, int(cx) - ext), max(0, int(cy) - ext), min(self.w, int(cx) + ext), min(self.h, int(cy) + ext)
        if r <= l or b <= t:
            return
        c, s = np.cos(a), np.sin(a)
        M = np.array([[k * c, -k * s, 0], [k * s, k * c, 0]])
        o = np.array([w / 2 - off, h / 2]) - M[:, :2] @ [cx - l, cy - t]
        M[:, 2] = o
        small = cv2.GaussianBlur(m, (0, 0), 0.7)
        out = cv2.warpAffine(small, M, (r - l, b - t), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)
        self.lay((slice(t, b), slice(l, r), np.clip(out * 1.15, 0, 1)), rgb, **how)

    def level(self, geom):
        """Take the relief away there: what is drawn next lies on something new."""
        where = self.mask(geom)
        if where is not None:
            self.bump[where[0], where[1]] *= 1 - where[2]

    def raised(self, geom, z):
        """Note that the face stands at height z there (for the dirt; the relief itself is in the slabs)."""
        where = self.mask(geom)
        if where is not None:
            rows, cols, m = where
            v = self.height[rows, cols]
            v += (z - v) * m

    # ---------------------------------------------------------------- surfaces
    def noise(self, seed, scale_mm, octaves=4):
        n = _noise(seed, scale_mm, octaves)
        x = (self.box[0] - DEVICE[0] + (np.arange(self.w) + 0.5) / self.sx) * 4 - 0.5
        y = (DEVICE[3] - self.box[3] + (np.arange(self.h) + 0.5) / self.sy) * 4 - 0.5
        return cv2.remap(n, np.tile(x.astype(np.float32), (self.h, 1)), np.tile(y.astype(np.float32)[:, None], (1, self.w)), cv2.INTER_CUBIC)

    def grid(self):
        """Device x and y (mm) of each pixel."""
        x = self.box[0] + (np.arange(self.w) + 0.5) / self.sx
        y = self.box[3] - (np.arange(self.h) + 0.5) / self.sy
        return np.meshgrid(x.astype(np.float32), y.astype(np.float32))

    def grained(self, amount=0.004, size=0.16, tone=0.02):
        """The fine grain of a spark-eroded mould."""
        n = cv2.GaussianBlur(self.g.standard_normal((self.h, self.w)).astype(np.float32), (0, 0), size * self.ppm / 2)
        n /= n.std()
        self.bump += amount * n
        self.rgb *= (1 + tone * n)[..., None]

    def brushed(self, along_x=True, amount=0.0015, tone=0.05):
        n = self.g.standard_normal((self.h, self.w)).astype(np.float32)
        n = cv2.GaussianBlur(n, (0, 0), sigmaX=60 if along_x else 0.8, sigmaY=0.8 if along_x else 60)
        n /= n.std()
        self.bump += amount * n
        self.rgb *= (1 + tone * n)[..., None]

    def turned(self, x, y, amount=0.0015, tone=0.05):
        """Concentric marks of a lathe."""
        gx, gy = self.grid()
        r = np.hypot(gx - x, gy - y)
        n = self.g.standard_normal(4000).astype(np.float32)
        n = np.interp(r.ravel() * 14, np.arange(4000), n).reshape(r.shape).astype(np.float32)
        self.bump += amount * n
        self.rgb *= (1 + tone * n)[..., None]

    def rounded(self, geom, radius=1.5, depth=0.35):
        """Shade a rim as if it were rounded; the wall itself stays straight."""
        where = self.mask(geom)
        m = np.zeros((self.h, self.w), np.uint8)
        m[where[0], where[1]] = (where[2] > 0.5) * 255
        m = cv2.copyMakeBorder(m, 1, 1, 1, 1, cv2.BORDER_CONSTANT)
        d = cv2.distanceTransform(m, cv2.DIST_L2, 5)[1:-1, 1:-1] / self.ppm
        t = np.clip(1 - d / radius, 0, 1)
        self.bump -= depth * t * t * (m[1:-1, 1:-1] > 0)

    def shine(self, amount, scale_mm, seed):
        self.rough = np.clip(self.rough + amount * self.noise(seed, scale_mm), 0.03, 1)

    # ---------------------------------------------------------------- weather
    def crevices(self, reach=0.9):
        """0..1: low places beside high ones."""
        soft = cv2.GaussianBlur(self.height, (0, 0), reach * self.ppm)
        return np.clip((soft - self.height) / 0.8, 0, 1)

    def ridges(self, reach=0.35):
        soft = cv2.GaussianBlur(self.height, (0, 0), reach * self.ppm)
        return np.clip((self.height - soft) / 0.5, 0, 1)

    def weather(self, silt=0.5, tide=0.5, dust=0.25, scratches=0, wear=0.0, crevice=0.6, scratch_rgb=None):
        """One history for all parts: lying head up, two thirds under water in a tarn, then drying slowly."""
        x, y = self.grid()
        silt_rgb, line_rgb = srgb((150, 130, 98)), srgb((126, 101, 70))
        wander, blot, speck = self.noise("wander", 22), self.noise("blot", 5), self.noise("speck", 0.9, 3)
        level = 78 - 0.16 * (x - 32) + 1.6 * wander
        below = smoothstep(3, -14, y - level)
        film = silt * below * (0.10 + 0.26 * smoothstep(0.1, 1.7, blot + 0.35 * speck)) + dust * 0.16 * smoothstep(0.3, 2.2, blot - 0.4 * speck)
        film = np.clip(film + crevice * self.crevices() * (0.35 + 0.45 * smoothstep(-1, 1.2, speck)) * (0.4 + 0.6 * below), 0, 0.85)
        self._film(film, silt_rgb, 0.75)
        lines = np.zeros_like(film)
        for off, strong, width in ((0.0, 1.0, 0.45), (-3.4, 0.5, 0.3), (-9.5, 0.35, 0.3)):
            d = y - level - off - 0.35 * blot
            edge = np.exp(-(d / width) ** 2) + 0.45 * np.where(d < 0, np.exp(d / 1.5), 0)
            lines = np.maximum(lines, strong * edge * smoothstep(-1.6, 0.8, self.noise(f"tide{off}", 9)))
        self._film(tide * 0.55 * np.clip(lines, 0, 1), line_rgb, 0.7)
        self._film(silt * 0.5 * smoothstep(2.1, 2.7, speck + 0.25 * blot) * (0.3 + 0.7 * below), srgb((112, 92, 66)), 0.8)
        for _ in range(scratches):
            a = self.g.normal(0.6, 0.9)
            p = np.array([self.g.uniform(self.box[0], self.box[2]), self.g.uniform(self.box[1], self.box[3])])
            n = self.g.uniform(1, 11) * (0.35 + self.g.random())
            t = np.linspace(0, 1, 9)[:, None]
            pts = p + t * n * [np.cos(a), np.sin(a)] + t * (1 - t) * self.g.normal(0, 0.6, 2)
            self.line(pts, self.g.uniform(0.05, 0.13), scratch_rgb, a=self.g.uniform(0.12, 0.5), bump=-0.006)
        if wear:
            worn = wear * self.ridges() * smoothstep(-0.8, 1.4, self.noise("worn", 3))
            self.rgb += (self.rgb * 0.55 + 0.10) * worn[..., None]
            self.rough -= 0.12 * worn

    def _film(self, a, rgb, rough):
        self.rgb += (rgb - self.rgb) * a[..., None]
        self.rough += (rough - self.rough) * np.minimum(1, a * 1.4)
        self.metal *= 1 - np.minimum(1, a * 1.2)

    def bloom(self, rgb, seed, amount=1.0, scale_mm=2.5, level=1.2, where=None):
        """Corrosion that creeps from a few spots; `where` (0..1 per pixel) limits it."""
        n = self.noise(seed, scale_mm, 5)
        a = amount * smoothstep(level, level + 0.9, n)
        if where is not None:
            a = a * where
        self._film(a, srgb(rgb), 0.85)
        self.bump += 0.03 * a * np.clip(self.noise(seed + "grit", 0.4, 2), -1, 1)

    # ---------------------------------------------------------------- saving
    def save(self, folder, name):
        """Write the maps; returns the `face` record of a scene's part."""
        folder.mkdir(parents=True, exist_ok=True)
        u8 = lambda v: np.clip(v * 255 + 0.5, 0, 255).astype(np.uint8)
        cv2.imwrite(str(folder / f"{name}.png"), u8(self.rgb)[..., ::-1])
        # below a roughness of 0.02 the renderer's highlights turn to noise
        cv2.imwrite(str(folder / f"{name}.props.png"), np.dstack([np.zeros((self.h, self.w), np.uint8), u8(self.metal), u8(np.clip(self.rough, 0.02, 1))]))
        face = {"texture": f"{folder.name}/{name}.png", "props": f"{folder.name}/{name}.props.png", "box_mm": list(self.box)}
        b = cv2.GaussianBlur(self.bump, (0, 0), 0.8)
        lo, hi = float(b.min()), float(b.max())
        if hi - lo > 1e-4:
            cv2.imwrite(str(folder / f"{name}.bump.png"), ((b - lo) / (hi - lo) * 65535).astype(np.uint16))
            face |= {"bump": f"{folder.name}/{name}.bump.png", "bump_mm": [lo, hi]}
        return face
