"""The bench top under the sheet: oiled dark oak in staves, drawn."""
import cv2
import numpy as np


def draw(path, size_mm=840, ppm=4.5, seed=11):
    g, n = np.random.default_rng(seed), int(size_mm * ppm)
    img = np.empty((n, n, 3), np.float32)
    stave = int(66 * ppm)
    for y in range(0, n, stave):
        h = min(stave, n - y)
        x = -int(g.uniform(0, 300) * ppm)
        while x < n:
            w = int(g.uniform(260, 520) * ppm)
            lo, hi = max(0, x), min(n, x + w)
            if hi > lo:
                tone = np.array([112, 88, 66], np.float32) * g.normal(0.80, 0.035) * (1 + g.normal(0, 0.006, 3))
                yy, xx = np.mgrid[0:h, 0:hi - lo].astype(np.float32)
                bend = cv2.resize(g.standard_normal((3, 5)).astype(np.float32), (hi - lo, h), interpolation=cv2.INTER_CUBIC) * 22
                rings = np.sin((yy + bend) / g.uniform(9, 16) + g.uniform(0, 6)) + 0.6 * np.sin((yy + bend * 1.3) / 4.1)
                fine = cv2.GaussianBlur(g.standard_normal((h, hi - lo)).astype(np.float32), (0, 0), sigmaX=26, sigmaY=0.7)
                pore = cv2.GaussianBlur((g.random((h, hi - lo)) > 0.9965).astype(np.float32), (0, 0), sigmaX=9, sigmaY=0.6)
                v = 1 + 0.035 * rings + 0.05 * fine / fine.std() - 0.9 * pore / max(pore.max(), 1e-6) * 0.22
                img[y:y + h, lo:hi] = tone * v[..., None]
                img[y:y + h, lo:lo + 2] *= 0.6
            x += w
        img[y:y + 2] *= 0.62
    cv2.imwrite(str(path), np.clip(img, 0, 255).astype(np.uint8)[..., ::-1])
