#!/usr/bin/env python3
"""Teaches the fine eye: where across a ring's normal the part's edge runs, and how sure that is.

    touch.py --renders DIR --fields DIR --minutes M -o fine.pt [--start fine.bin --share 0.5]

With --start an eye of the program goes on learning, also one that knew light alone. --share takes the mean of what it was and what it became
(so much of the latter): few new photos teach much of themselves and spoil a little of what many had taught (means of weights along a
fine-tuning: Wortsman and others 2022, from memory).
"""
import argparse, json, time
from pathlib import Path
import cv2
import numpy as np
import shapely
import torch
import torch.nn as nn
from teach import LEAN

# Places across the edge, cells outwards (negative: on the part's side).
ACROSS = np.array([-14, -11, -9, -7.5, *np.arange(-6, 6.01, 0.5), 7.5, 9, 11, 14], np.float32)
ALONG = np.array([-1, 0, 1], np.float32)                 # lines beside each other, averaged


class Fine(nn.Module):
    def __init__(self):
        super().__init__()
        self.net = nn.Sequential(nn.Linear(3 * len(ACROSS) + 6, 96), nn.ReLU(), nn.Linear(96, 48), nn.ReLU(), nn.Linear(48, 2))

    def forward(self, x):
        return self.net(x)


def take_over(fine, data):
    """Starts an eye with what one in the program's form has learnt; one that knew light alone does not hear the rest yet, and channels that
    only the new one has say nothing."""
    numbers, lights = np.frombuffer(data, "<f2", offset=4).astype(np.float32), 3 * len(ACROSS)
    inputs, first = (lights, 64) if len(numbers) == (lights + 1) * 64 + 65 * 48 + 49 * 2 else (lights + 6, 96)
    sizes, at = [(inputs, first), (first, 48), (48, 2)], 0
    with torch.no_grad():
        for layer, (i, o) in zip(fine.net[0::2], sizes):
            weight = torch.from_numpy(numbers[at:at + i * o].reshape(i, o).T.copy())
            bias = torch.from_numpy(numbers[at + i * o:at + i * o + o].copy())
            at += i * o + o
            layer.weight[:, i:] = 0
            layer.weight[:o, :i], layer.bias[:o] = weight, bias
    if at != len(numbers):
        raise ValueError(f"{len(numbers)} numbers, {at} expected")
    return fine


def silhouettes(truth):
    """What the camera sees of each part, polygons in photo pixels."""
    out = []
    for p in truth["parts"]:
        if p.get("on"):
            continue
        pieces = []
        for rings in (p["base_px"], p["rim_px"]):
            q = shapely.Polygon(rings[0], [h for h in rings[1:] if len(h) > 2])
            pieces.append(q if q.is_valid else q.buffer(0))
        for base, rim in zip(p["base_px"], p["rim_px"]):
            b, r = np.array(base), np.array(rim)
            if len(b) != len(r):
                continue
            quads = np.stack([b, np.roll(b, -1, 0), np.roll(r, -1, 0), r], 1)
            pieces += [q for q in shapely.polygons(quads) if q.is_valid and q.area > 0]
        out.append((p["material"], shapely.union_all(pieces, grid_size=0.001)))
    return out


def points_of(polygon, step):
    """Points along all rings with outward normals."""
    pts, nrm = [], []
    for poly in getattr(polygon, "geoms", [polygon]):
        poly = shapely.geometry.polygon.orient(poly, 1)
        for ring in [poly.exterior, *poly.interiors]:
            n = int(ring.length / step)
            if n < 8:
                continue
            at = np.arange(n) * (ring.length / n)
            p = shapely.get_coordinates(shapely.line_interpolate_point(ring, at))
            a = shapely.get_coordinates(shapely.line_interpolate_point(ring, (at - 1.0) % ring.length))
            b = shapely.get_coordinates(shapely.line_interpolate_point(ring, (at + 1.0) % ring.length))
            t = b - a
            t /= np.maximum(np.hypot(*t.T), 1e-9)[:, None]
            pts.append(p)
            nrm.append(np.column_stack([t[:, 1], -t[:, 0]]))
    if not pts:
        return np.zeros((0, 2)), np.zeros((0, 2))
    return np.concatenate(pts), np.concatenate(nrm)


def profiles(field, p, n):
    """Light across the edge: (points, places, 3), lines beside each other averaged."""
    t = np.column_stack([-n[:, 1], n[:, 0]])
    at = p[:, None, None] + ACROSS[None, None, :, None] * n[:, None, None] + ALONG[None, :, None, None] * t[:, None, None]
    at = at.astype(np.float32).reshape(len(p), -1, 2)
    v = cv2.remap(field, at[..., 0], at[..., 1], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return v.reshape(len(p), len(ALONG), len(ACROSS), 3).mean(1)


def round_about(about, p, n, g):
    """What the eye hears of each place beside the light across it: how far tops appear moved outwards and along the edge, whether
    that is known, and the ground's own light."""
    first, per_x, per_y = np.array(about["lean"])
    lean = LEAN * (first + p[:, :1] * per_x + p[:, 1:] * per_y)
    out = (lean * n).sum(1)
    along = np.abs(lean[:, 1] * n[:, 0] - lean[:, 0] * n[:, 1])
    known = (g.random(len(p)) > 0.1).astype(np.float32)
    return np.column_stack([out * known, along * known, known, np.tile(about["ground_light"], (len(p), 1))]).astype(np.float32)


def scene(fields, renders, name, g, step=2.0):
    about = json.loads((fields / f"{name}.field.json").read_text())
    h, w, s = about["height"], about["width"], about["cell_px"]
    field = np.clip(np.fromfile(fields / f"{name}.field", "<i2").reshape(h, w, 3).astype(np.float32) / 4096, -5, 5)
    inside = np.fromfile(fields / f"{name}.inside", np.uint8).reshape(h, w)
    truth = json.loads((renders / f"{name}.truth.json").read_text())
    xs, ys, kinds = [], [], []
    for material, polygon in silhouettes(truth):
        p, n = points_of(polygon, step)
        if not len(p):
            continue
        p = (p - about["origin"] - (s - 1) / 2) / s
        ok = (p[:, 0] > 16) & (p[:, 1] > 16) & (p[:, 0] < w - 17) & (p[:, 1] < h - 17)
        ok &= inside[p[:, 1].astype(int).clip(0, h - 1), p[:, 0].astype(int).clip(0, w - 1)] > 0
        p, n = p[ok], n[ok]
        if not len(p):
            continue
        turn = np.radians(g.normal(0, 8, len(p)))
        c, si = np.cos(turn), np.sin(turn)
        n = np.column_stack([c * n[:, 0] - si * n[:, 1], si * n[:, 0] + c * n[:, 1]])
        off = np.where(g.random(len(p)) < 0.7, g.normal(0, 0.6, len(p)), g.uniform(-3, 3, len(p))).clip(-3, 3)
        light = profiles(field, p + off[:, None] * n, n).reshape(len(p), -1)
        xs.append(np.hstack([light, round_about(about, p, n, g)]).astype(np.float16))
        ys.append(-off.astype(np.float32))
        kinds += [material] * len(p)
    return np.concatenate(xs), np.concatenate(ys), kinds


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--renders", type=Path, required=True)
    ap.add_argument("--fields", type=Path, required=True)
    ap.add_argument("--minutes", type=float, default=10)
    ap.add_argument("--hold", type=int, default=6)
    ap.add_argument("--start", type=Path, help="go on from this one of the program")
    ap.add_argument("--share", type=float, default=1.0, help="of what was learnt, in the mean with --start")
    ap.add_argument("--lr", type=float, default=2e-3)
    ap.add_argument("--decay", type=float, default=1e-5)
    ap.add_argument("-o", "--out", type=Path, required=True)
    a = ap.parse_args()
    torch.set_num_threads(1)
    g = np.random.default_rng(2)
    torch.manual_seed(2)
    names = sorted(m.name.split(".")[0] for m in a.renders.glob("*.mask.png") if (a.fields / f"{m.name.split('.')[0]}.field.json").exists())
    data = [[], []], [[], []]
    t0 = time.time()
    for k, name in enumerate(names):
        x, y, _ = scene(a.fields, a.renders, name, g)
        data[k < a.hold][0].append(x)
        data[k < a.hold][1].append(y)
    (x, y), (hx, hy) = [tuple(torch.from_numpy(np.concatenate(v)) for v in d) for d in data]
    print(len(x), "edges,", len(hx), "held,", f"{time.time() - t0:.0f} s", flush=True)
    net = Fine()
    if a.start:
        take_over(net, a.start.read_bytes())
    before = {k: v.clone() for k, v in net.state_dict().items()}
    opt = torch.optim.AdamW(net.parameters(), lr=a.lr, weight_decay=a.decay)
    start, step, total = time.time(), 0, 0.0
    while True:
        t = (time.time() - start) / 60 / a.minutes
        if t >= 1:
            break
        for group in opt.param_groups:
            group["lr"] = a.lr * (0.5 * (1 + np.cos(np.pi * t)) * 0.98 + 0.02)
        pick = torch.randint(len(x), (1024,))
        xb = x[pick].float()
        xb[:, :3 * len(ACROSS)] += torch.randn(len(xb), 1) * 0.02
        out = net(xb)
        b = out[:, 1].clamp(-4, 2)
        loss = ((out[:, 0] - y[pick]).abs() * torch.exp(-b) + b).mean()
        opt.zero_grad()
        loss.backward()
        opt.step()
        step += 1
        total += loss.item()
        if step % 2000 == 0:
            with torch.no_grad():
                o = net(hx.float())
                r = (o[:, 0] - hy).numpy()
                s = np.exp(o[:, 1].clamp(-4, 2).numpy())
            q = np.argsort(s)
            tenth = [f"{np.sqrt(np.mean(r[v] ** 2)):.2f}/{1.41 * s[v].mean():.2f}" for v in np.array_split(q, 5)]
            print(f"step {step} {(time.time() - start) / 60:.1f} min loss {total / 2000:.3f} held median {np.median(abs(r)):.3f} rms {np.sqrt(np.mean(r**2)):.3f} p95 {np.percentile(abs(r), 95):.3f} by sureness {tenth}", flush=True)
            total = 0
    mean = {k: a.share * v + (1 - a.share) * before[k] for k, v in net.state_dict().items()}
    torch.save(mean, a.out)


if __name__ == "__main__":
    main()
