"""Pictures of captured outlines over the photo, laid flat by the truth camera: for eyes, not for checks."""
import cv2
import numpy as np
import shapely

from outline_errors import samples

TRUTH = (255, 220, 0)       # BGR: cyan
RAMP = ((90, 230, 60), (60, 220, 250), (220, 60, 250))      # error 0, 0.25 and 0.5 mm or more
SHIFT = 5                   # binary places for sub-pixel drawing


def to_photo(points, z, camera):
    """Photo pixels of points (x, y, z) in mm of the sheet."""
    xyz = np.column_stack([points, np.full(len(points), float(z))])
    xc, yc, zc = (xyz @ np.array(camera["R"]).T + np.array(camera["t"])).T
    x, y = xc / zc, yc / zc
    k1, k2, p1, p2, k3 = camera["dist_k1k2p1p2k3"]
    r2 = x * x + y * y
    radial = 1 + r2 * (k1 + r2 * (k2 + r2 * k3))
    u = x * radial + 2 * p1 * x * y + p2 * (r2 + 2 * x * x)
    v = y * radial + p1 * (r2 + 2 * y * y) + 2 * p2 * x * y
    k = np.array(camera["K"])
    return np.column_stack([k[0, 0] * u + k[0, 2], k[1, 1] * v + k[1, 2]])


class Flat:
    """A window of the sheet as a picture; parts are shown at the height of their rim."""

    def __init__(self, bounds, px_per_mm, photo, camera, z=0.0):
        self.lo, self.ppm = np.array(bounds[:2]), px_per_mm
        self.top = bounds[3]
        self.photo, self.camera = photo, camera
        w, h = (int(round((bounds[i + 2] - bounds[i]) * px_per_mm)) for i in (0, 1))
        self.image = self.warped(0, 0, w, h, z)

    def warped(self, x0, y0, w, h, z):
        gx, gy = np.meshgrid(np.arange(x0, x0 + w), np.arange(y0, y0 + h))
        mm = np.column_stack([(gx.ravel() + 0.5) / self.ppm + self.lo[0], self.top - (gy.ravel() + 0.5) / self.ppm])
        uv = to_photo(mm, z, self.camera).astype(np.float32).reshape(h, w, 2)
        return cv2.remap(self.photo, uv[..., 0], uv[..., 1], cv2.INTER_CUBIC)

    def px(self, points):
        points = np.atleast_2d(points)
        return np.column_stack([(points[:, 0] - self.lo[0]) * self.ppm - 0.5, (self.top - points[:, 1]) * self.ppm - 0.5])

    def lift(self, bounds, z):
        """Shows the photo inside `bounds` as it is at height z."""
        (x0, y1), (x1, y0) = self.px(bounds[:2])[0], self.px(bounds[2:])[0]
        h, w = self.image.shape[:2]
        x0, y0, x1, y1 = max(int(x0), 0), max(int(y0), 0), min(int(x1) + 1, w), min(int(y1) + 1, h)
        if x1 > x0 and y1 > y0:
            self.image[y0:y1, x0:x1] = self.warped(x0, y0, x1 - x0, y1 - y0, z)

    def ring(self, points, colour, width=1):
        p = np.round(self.px(points) * (1 << SHIFT)).astype(np.int32)
        cv2.polylines(self.image, [p], True, colour, width, cv2.LINE_AA, SHIFT)

    def coloured(self, polygon, true, width):
        """The captured outline, each stretch in the colour of its distance from the true one."""
        for ring in [polygon.exterior, *polygon.interiors]:
            dense = shapely.get_coordinates(shapely.segmentize(ring, 0.25))
            middles = shapely.points((dense[1:] + dense[:-1]) / 2)
            error = shapely.distance(middles, true.boundary)
            p = np.round(self.px(dense) * (1 << SHIFT)).astype(np.int32)
            for a, b, e in zip(p[:-1], p[1:], error):
                cv2.line(self.image, a.tolist(), b.tolist(), ramp(e), width, cv2.LINE_AA, SHIFT)

    def outlines(self, part, width):
        for ring in [part.true.exterior, *part.true.interiors]:
            self.ring(shapely.get_coordinates(ring)[:-1], TRUTH)
        if part.found is not None:
            self.coloured(part.found, part.true, width)


def ramp(error_mm):
    t = min(error_mm / 0.25, 2.0)
    a, b = (RAMP[0], RAMP[1]) if t < 1 else (RAMP[1], RAMP[2])
    t = t if t < 1 else t - 1
    return tuple(float(u + (v - u) * t) for u, v in zip(a, b))


def label(image, text, at, scale=0.5):
    (w, h), below = cv2.getTextSize(text, cv2.FONT_HERSHEY_SIMPLEX, scale, 1)
    x, y = max(at[0], 0), max(at[1], h + 2)
    cv2.rectangle(image, (x - 2, y - h - 2), (x + w + 2, y + below), (30, 30, 30), -1)
    cv2.putText(image, text, (x, y), cv2.FONT_HERSHEY_SIMPLEX, scale, (255, 255, 255), 1, cv2.LINE_AA)


def overlay(comparison, captured, photo, truth, path, px_per_mm=10):
    """The whole field: truth in cyan; captured green, yellow at 0.25 mm, magenta at 0.5 mm; inventions in red."""
    shown = [p.true for p in comparison.parts] + captured
    x0, y0, x1, y1 = shapely.total_bounds(np.array(shown, dtype=object)) if shown else (0, 0, 50, 50)
    flat = Flat((x0 - 4, y0 - 4, x1 + 4, y1 + 4), px_per_mm, photo, truth["camera"])
    for part in comparison.parts:
        flat.lift(part.true.buffer(2).bounds, part.rim_z_mm)
    for part in comparison.parts:
        flat.outlines(part, 2)
        x, y = flat.px([part.true.bounds[0], part.true.bounds[3]])[0]
        label(flat.image, part.name + ("" if part.found else " MISSED"), (int(x), int(y) - 4))
    for j in comparison.invented:
        flat.ring(shapely.get_coordinates(captured[j].exterior)[:-1], (0, 0, 255), 3)
        x, y = flat.px(captured[j].bounds[:2])[0]
        label(flat.image, f"INVENTED {j}", (int(x), int(y) + 16))
    cv2.imwrite(str(path), flat.image)


def worst_places(comparison, photo, truth, path, size_mm=8.0, px_per_mm=40):
    """For each found part its worst place, enlarged: captured point or true point farthest from the other."""
    tiles = []
    for part in sorted((p for p in comparison.parts if p.found is not None), key=lambda p: -p.errors.max()):
        points = np.concatenate([samples(part.true), samples(part.found)])
        c = shapely.get_coordinates(points[np.argmax(part.errors)])[0]
        box = (c[0] - size_mm / 2, c[1] - size_mm / 2, c[0] + size_mm / 2, c[1] + size_mm / 2)
        flat = Flat(box, px_per_mm, photo, truth["camera"], part.rim_z_mm)
        flat.outlines(part, 2)
        label(flat.image, f"{part.name} {part.material} {part.errors.max():.2f} mm at {c[0]:.1f},{c[1]:.1f}", (4, 14), 0.42)
        tiles.append(cv2.copyMakeBorder(flat.image, 2, 2, 2, 2, cv2.BORDER_CONSTANT, value=(40, 40, 40)))
    if not tiles:
        return
    columns = min(4, len(tiles))
    while len(tiles) % columns:
        tiles.append(np.zeros_like(tiles[0]))
    rows = [np.hstack(tiles[i:i + columns]) for i in range(0, len(tiles), columns)]
    cv2.imwrite(str(path), np.vstack(rows))
