#!/usr/bin/env python3
"""Teaches the wall eye which of a wall's two rims an edge is, its foot or its top, on practice scenes.

    walls.py --renders DIR --fields DIR -o ../../crates/capture/src/segment/eye/wall.bin

RENDERS are made by practice.py, FIELDS by teach.py. Every edge of a part that looks to the camera's foot is a pair of rims whose places
follow from the true outline, the height and the camera; each is shown as the edge that was found, off by a cell or so, and as
the other.
"""
import argparse, json
from pathlib import Path
import cv2
import numpy as np

ACROSS = np.array([-3, -2, -1.25, -0.6, 0, 0.6, 1.25, 2, 3], np.float32)   # cells of a fifth of a millimetre, outwards
STEP_MM, LEAST_WIDTH, LEAST_SHARE, LEAST_HEIGHT_MM = 0.3, 0.7, 0.35, 0.3


class Scene:
    """A photo's field in cells of about a fifth of a millimetre, with its truth."""

    def __init__(self, name, renders, fields):
        about = json.loads((fields / f"{name}.field.json").read_text())
        h, w, self.px = about["height"], about["width"], about["cell_px"]
        f = np.clip(np.fromfile(fields / f"{name}.field", "<i2").reshape(h, w, 3).astype(np.float32) / 4096, -5, 5)
        self.joined = 2 if about["cells_per_mm"] >= 8 else 1
        if self.joined == 2:
            f = f[:h // 2 * 2, :w // 2 * 2].reshape(h // 2, 2, w // 2, 2, 3).mean((1, 3))
        self.field, self.origin = f, np.array(about["origin"]) + 0.5 * (self.px - 1)
        self.truth = json.loads((renders / f"{name}.truth.json").read_text())
        self.mask = cv2.imread(str(renders / f"{name}.mask.png"), cv2.IMREAD_UNCHANGED)

    def cells(self, points, z):
        """Where places at a height appear, cells."""
        c = self.truth["camera"]
        p, _ = cv2.projectPoints(np.c_[points, np.full(len(points), z)], cv2.Rodrigues(np.array(c["R"]))[0], np.array(c["t"]),
                                 np.array(c["K"]), np.array(c["dist_k1k2p1p2k3"]))
        return ((p[:, 0] - self.origin) / self.px + 0.5) / self.joined - 0.5

    def parts_at(self, cells):
        px = np.round(((cells + 0.5) * self.joined - 0.5) * self.px + self.origin).astype(int)
        ok = (px >= 0).all(1) & (px[:, 0] < self.mask.shape[1]) & (px[:, 1] < self.mask.shape[0])
        found = np.full(len(cells), 255)
        found[ok] = self.mask[px[ok, 1], px[ok, 0]]
        return found

    def light(self, cells):
        h, w = self.field.shape[:2]
        x, y = np.clip(cells[:, 0], 0, w - 1.001), np.clip(cells[:, 1], 0, h - 1.001)
        i, j = x.astype(int), y.astype(int)
        u, v = (x - i)[:, None], (y - j)[:, None]
        f = self.field
        return (f[j, i] * (1 - u) + f[j, i + 1] * u) * (1 - v) + (f[j + 1, i] * (1 - u) + f[j + 1, i + 1] * u) * v

    def across(self, cells, outward):
        along = np.c_[-outward[:, 1], outward[:, 0]]
        return np.stack([sum(self.light(cells + outward * o + along * a) for a in (-1, 0, 1)) / 3 for o in ACROSS], 1)

    def seen(self, edge, outward, up):
        """What the wall eye is given: light across the edge and both places where the other rim may be, and the wall's sizes."""
        light = np.stack([self.across(edge + k * up, outward) for k in (-1, 0, 1)], 1).reshape(len(edge), -1)
        sizes = np.log(np.maximum(np.c_[-(up * outward).sum(1), np.hypot(*up.T)], 0.1))
        return np.c_[light, sizes].astype(np.float32)

    def walls(self):
        """Feet and tops of walls that the camera sees, with the outward normal and the way from foot to top, cells."""
        for part in self.truth["parts"]:
            z = part["rim_z_mm"] if isinstance(part.get("rim_z_mm"), (int, float)) else part["thickness_mm"]
            if part.get("on") or z < LEAST_HEIGHT_MM:
                continue
            for k, ring in enumerate([part["outline_mm"], *part["holes_mm"]]):
                foot_mm = evenly(ring)
                foot, top = self.cells(foot_mm, 0.0), self.cells(foot_mm, z)
                up, along = top - foot, np.roll(foot, -2, 0) - np.roll(foot, 2, 0)
                outward = np.c_[along[:, 1], -along[:, 0]] / np.maximum(np.hypot(*along.T), 1e-9)[:, None]
                turning = np.sum(foot[:, 0] * np.roll(foot[:, 1], -1) - np.roll(foot[:, 0], -1) * foot[:, 1])
                outward *= np.sign(turning) * (1 if k == 0 else -1)
                width = -(up * outward).sum(1)
                own, beyond = self.parts_at(foot - outward), self.parts_at(foot + 1.5 * outward)
                ok = (width > LEAST_WIDTH) & (width > LEAST_SHARE * np.hypot(*up.T)) & (beyond == 0) & (own > 0) & (own < 255)
                if ok.sum() >= 3:
                    ok &= own == np.bincount(own[ok]).argmax()
                    yield foot[ok], top[ok], outward[ok], up[ok]


def evenly(ring):
    r = np.array(ring, float)
    sides = np.roll(r, -1, 0) - r
    length = np.hypot(*sides.T)
    passed = np.r_[0, np.cumsum(length)]
    count = max(8, int(passed[-1] / STEP_MM))
    s = np.arange(count) * passed[-1] / count
    i = np.clip(np.searchsorted(passed, s, "right") - 1, 0, len(r) - 1)
    return r[i] + sides[i] * ((s - passed[i]) / np.maximum(length[i], 1e-9))[:, None]


def main():
    import torch
    from torch import nn
    from write_weights import of_layers
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("--renders", type=Path, required=True)
    ap.add_argument("--fields", type=Path, required=True)
    ap.add_argument("--steps", type=int, default=7000)
    ap.add_argument("-o", "--out", type=Path, required=True)
    a = ap.parse_args()
    torch.manual_seed(1)
    g = np.random.default_rng(1)
    x, y, scene = [], [], []
    for k, path in enumerate(sorted(a.renders.glob("*.truth.json"))):
        name = path.name.split(".")[0]
        if not (a.fields / f"{name}.field.json").exists():
            continue
        s = Scene(name, a.renders, a.fields)
        for foot, top, outward, up in s.walls():
            for edge, is_top in 2 * [(foot, 0), (top, 1)]:
                off = outward * g.normal(0, 0.5, (len(edge), 1))
                x.append(s.seen(edge + off, outward, up * g.normal(1, 0.03, (len(edge), 1))))
                y.append(np.full(len(edge), is_top, np.float32))
                scene.append(np.full(len(edge), k))
    x, y, scene = (torch.from_numpy(np.concatenate(v)) for v in (x, y, scene))
    held = scene % 6 == 5
    learnt = torch.nonzero(~held)[:, 0].numpy()
    print(len(x), "edges,", int(held.sum()), "held out", flush=True)
    net = nn.Sequential(nn.Linear(x.shape[1], 48), nn.ReLU(), nn.Linear(48, 32), nn.ReLU(), nn.Linear(32, 1))
    opt = torch.optim.AdamW(net.parameters(), lr=3e-3, weight_decay=1e-3)
    for step in range(a.steps):
        i = g.choice(learnt, 1024)
        b = x[i].clone()
        b[:, :-2] += 0.03 * torch.randn(len(i), 1) + 0.02 * torch.randn(len(i), b.shape[1] - 2)
        for group in opt.param_groups:
            group["lr"] = 3e-3 * 0.5 * (1 + np.cos(np.pi * step / a.steps)) + 1e-5
        loss = nn.functional.binary_cross_entropy_with_logits(net(b)[:, 0], y[i])
        opt.zero_grad()
        loss.backward()
        opt.step()
        if step % 1000 == 999:
            with torch.no_grad():
                right = ((net(x[held])[:, 0] > 0) == (y[held] > 0.5)).float().mean().item()
            print(f"step {step + 1}: loss {loss.item():.3f}, {100 * right:.1f} % of the edges held out told rightly", flush=True)
    a.out.write_bytes(b"SWAL" + of_layers(net[0::2]))


if __name__ == "__main__":
    main()
