#!/usr/bin/env python3
"""Teaches the eye (a small convolutional network) to tell parts from paper on practice scenes.

    teach.py --renders DIR --fields DIR --export PROGRAM --sheet SHEET.json --held MASK.png... --minutes M -o eye.pt

RENDERS are made by practice.py. EXPORT is the crate's example `practice_fields`, which writes each photo's field as the
program sees it, so that the eye learns on just that. The held-out photos are only judged, never learnt from.
"""
import argparse, json, subprocess, time
from pathlib import Path
import cv2
import numpy as np
import torch
import torch.nn as nn
import torch.nn.functional as F

WIDTHS = (12, 24, 32, 48, 64, 64)
FAR_WIDTHS = (12, 24, 48, 64, 96, 96)
LEAN = 4                       # a lean of a quarter, 15 degrees off the vertical, is 1


def start(c):
    """He's start for rectified layers. No normalisation by batch: a crop's own brightness is what tells paper."""
    nn.init.kaiming_normal_(c.weight, nonlinearity="relu")
    nn.init.zeros_(c.bias)
    return c


def conv(i, o):
    return nn.Sequential(start(nn.Conv2d(i, o, 3, padding=1)), nn.ReLU())


def down(i, o):
    return nn.Sequential(start(nn.Conv2d(i, o, 2, stride=2)), nn.ReLU())


def unheard(o):
    c = nn.Conv2d(3, o, 1, bias=False)
    nn.init.zeros_(c.weight)
    return c


class Eye(nn.Module):
    def __init__(self, widths=WIDTHS):
        super().__init__()
        a = widths
        self.stem = conv(12, a[0])
        self.down = nn.ModuleList(down(a[k], a[k + 1]) for k in range(len(a) - 1))
        self.look = nn.ModuleList(nn.Sequential(conv(w, w), conv(w, w)) for w in a[1:])
        self.up = nn.ModuleList(nn.Conv2d(a[k + 1], a[k], 1) for k in range(len(a) - 1))
        self.join = nn.ModuleList(conv(w, w) for w in a[:-1])
        self.head = nn.Conv2d(a[0], 4, 3, padding=1)
        # Which way walls lean, and whether that is known, heard on each level on the way down and up.
        self.down_lean = nn.ModuleList(unheard(w) for w in a[1:])
        self.up_lean = nn.ModuleList(unheard(w) for w in a[:-1])

    def forward(self, x, lean):
        """`x`: light over paper's of each cell; `lean`: along x and y, and 1 where it is known, of each cell."""
        x = self.stem(F.pixel_unshuffle(x, 2))
        leans = [F.avg_pool2d(lean, 2)]
        kept = [x]
        for d, n, l in zip(self.down, self.down_lean, self.look):
            leans.append(F.avg_pool2d(leans[-1], 2))
            x = l(d(x) + n(leans[-1]))
            kept.append(x)
        for k in reversed(range(len(self.up))):
            x = F.interpolate(self.up[k](x), scale_factor=2, mode="nearest")
            x = self.join[k](x + kept[k] + self.up_lean[k](leans[k]))
        return F.pixel_shuffle(self.head(x), 2)


def blocks_of(eye):
    """The layers in the order of the program's file."""
    blocks = [eye.stem[0]]
    for d, n, l in zip(eye.down, eye.down_lean, eye.look):
        blocks += [d[0], n, l[0][0], l[1][0]]
    for u, n, j in zip(eye.up, eye.up_lean, eye.join):
        blocks += [u, n, j[0]]
    return [*blocks, eye.head]


def tensors_of(eye):
    return [t for b in blocks_of(eye) for t in (b.weight, b.bias) if t is not None]


def take_over(eye, data):
    """Starts an eye with what another, written by `write_weights.py`, has learnt. Channels that only the new one has say nothing
    to the others yet; the form without leans (`SEYE`) is read as well."""
    count = int.from_bytes(data[4:6], "little")
    numbers = np.frombuffer(data, "<f2", offset=6 + 2 * count).astype(np.float32)
    old, at = Eye(np.frombuffer(data, "<u2", count, 6).tolist()), 0
    heard = {id(b.weight) for b in (*old.down_lean, *old.up_lean)}
    with torch.no_grad():
        for t in tensors_of(old):
            if id(t) in heard and data[:4] == b"SEYE":
                continue
            t.copy_(torch.from_numpy(numbers[at:at + t.numel()]).reshape(t.shape))
            at += t.numel()
        if at != len(numbers):
            raise ValueError(f"{len(numbers)} numbers, {at} expected")
        for new, t in zip(tensors_of(eye), tensors_of(old)):
            own = tuple(slice(n) for n in t.shape)
            if new.dim() > 1:
                new[:t.shape[0], t.shape[1]:] = 0
            new[own] = t
    return eye


def weights_of(label, inside):
    """Rims, small parts and small openings count more than the middle of a large face."""
    w = np.ones(label.shape, np.float32)
    edge = cv2.dilate(label, np.ones((5, 5), np.uint8)) != cv2.erode(label, np.ones((5, 5), np.uint8))
    w[edge] = 4
    for side in (label, 1 - label):
        n, ids, stats, _ = cv2.connectedComponentsWithStats(side, connectivity=4)
        boost = np.clip(np.sqrt(4000 / np.maximum(stats[:, 4], 20)), 1, 8).astype(np.float32)
        boost[stats[:, 4] < 20] = 0.5                   # slivers seen under a lean wall
        boost[0] = 1
        small = boost != 1
        for k in np.flatnonzero(small):
            x, y, bw, bh = stats[k, :4]
            x0, y0, x1, y1 = max(x - 3, 0), max(y - 3, 0), x + bw + 3, y + bh + 3
            own = cv2.dilate((ids[y0:y1, x0:x1] == k).astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
            w[y0:y1, x0:x1][own] *= boost[k]
    return np.minimum(w, 20) * inside


def far_weights_of(label, inside):
    """Faces count, all of their cells alike; rims are left to the other eyes."""
    rim = cv2.dilate(label, np.ones((3, 3), np.uint8)) != cv2.erode(label, np.ones((3, 3), np.uint8))
    return np.where(rim, np.float32(0.3), np.float32(1)) * inside


def load(fields, masks, name, cells_as_one=1):
    """A photo's field, what is part, weights, what is inside, and the lean. `cells_as_one`: so many cells along each side are seen as
    one where they are fine, half as many where they are coarse, as in photos of half the size."""
    about = json.loads((fields / f"{name}.field.json").read_text())
    h, w, s = about["height"], about["width"], about["cell_px"]
    field = np.fromfile(fields / f"{name}.field", "<i2").reshape(h, w, 3)
    inside = np.fromfile(fields / f"{name}.inside", np.uint8).reshape(h, w)
    ids = cv2.imread(str(masks), cv2.IMREAD_UNCHANGED)
    x, y = (int(v) for v in about["origin"])
    label = (ids[y:y + h * s, x:x + w * s] > 0).astype(np.uint8)
    if s > 1:
        label = (cv2.resize(label.astype(np.float32), (w, h), interpolation=cv2.INTER_AREA) > 0.5).astype(np.uint8)
    lean = np.array(about["lean"], np.float32)
    k = cells_as_one if about["cells_per_mm"] >= 8 else max(cells_as_one // 2, 1)
    if k > 1:
        w, h = w // k, h // k
        joined = lambda v: v[:k * h, :k * w].reshape(h, k, w, k, *v.shape[2:]).mean((1, 3), dtype=np.float32)
        field = np.round(joined(np.clip(field, -5 * 4096, 5 * 4096))).astype(np.int16)
        label, inside = (joined(label) > 0.5).astype(np.uint8), (joined(inside) > 0.99).astype(np.uint8)
        lean = np.stack([lean[0] + 0.5 * (k - 1) * (lean[1] + lean[2]), k * lean[1], k * lean[2]])
    weights = far_weights_of if cells_as_one == 4 else weights_of
    return field, label, weights(label, inside), inside, lean


def leans(lean, x, y):
    """Leans at the places of `y` by `x`, as the eye hears them."""
    v = lean[0] + x[None, :, None] * lean[1] + y[:, None, None] * lean[2]
    return np.concatenate([LEAN * v, np.ones(v.shape[:2] + (1,))], 2).astype(np.float32)


def crop(g, scene, side):
    field, label, weight, _, lean = scene
    zoom = float(g.uniform(0.7, 1.3)) if g.random() < 0.5 else 1.0
    want = int(side / zoom)
    h, w = label.shape
    y, x = (int(g.integers(0, max(n - want, 0) + 1)) for n in (h, w))
    f = field[y:y + want, x:x + want].astype(np.float32) / 4096
    l, m = label[y:y + want, x:x + want].astype(np.float32), weight[y:y + want, x:x + want]
    if zoom != 1:
        size = (round(f.shape[1] * zoom), round(f.shape[0] * zoom))
        how = cv2.INTER_AREA if zoom < 1 else cv2.INTER_LINEAR
        f, l, m = cv2.resize(f, size, interpolation=how), cv2.resize(l, size, interpolation=how), cv2.resize(m, size, interpolation=cv2.INTER_NEAREST)
    out = np.zeros((side, side, 3), np.float32)
    lab, wt = np.zeros((side, side), np.float32), np.zeros((side, side), np.float32)
    fh, fw = min(side, f.shape[0]), min(side, f.shape[1])
    out[:fh, :fw], lab[:fh, :fw], wt[:fh, :fw] = f[:fh, :fw], l[:fh, :fw], m[:fh, :fw]
    place = (np.arange(side) + 0.5) / zoom - 0.5
    lea = leans(lean, x + place, y + place)
    k = int(g.integers(4))
    out, lab, wt, lea = (np.rot90(v, k).copy() for v in (out, lab, wt, lea))
    for _ in range(k):                                  # a quarter turn to the left: right becomes up, down becomes right
        lea[..., :2] = np.stack([lea[..., 1], -lea[..., 0]], 2)
    if g.random() < 0.5:
        out, lab, wt, lea = out[:, ::-1], lab[:, ::-1], wt[:, ::-1], lea[:, ::-1].copy()
        lea[..., 0] *= -1
    if g.random() < 0.1:                                # as beside a card, before it is found
        lea[:] = 0
    out = out + g.normal(0, 0.015, 3).astype(np.float32)
    if g.random() < 0.3:
        out = out * np.float32(g.uniform(0.85, 1.15))
    if g.random() < 0.3:
        out = out + g.standard_normal(out.shape, dtype=np.float32) * np.float32(g.uniform(0, 0.05))
    if g.random() < 0.3:
        out = out[..., g.permutation(3)]
    return np.clip(out, -5, 5).transpose(2, 0, 1).copy(), lab.copy(), wt.copy(), lea.transpose(2, 0, 1).copy()


def pick(g, names):
    """A scene's place; the later ones, of boards and built parts, more often."""
    share = np.array([6.0 if n >= "s1400" else 3.5 if n >= "s0500" else 1.5 if n >= "s0300" else 1.0 for n in names])
    return int(g.choice(len(names), p=share / share.sum()))


def judge(eye, scenes):
    """Share of cells told wrongly away from the very edge, and parts and holes lost, per held-out photo."""
    eye.eval()
    lines = []
    with torch.no_grad():
        for name, (field, label, _, inside, lean) in scenes.items():
            x = np.clip(field.astype(np.float32) / 4096, -5, 5).transpose(2, 0, 1)
            h, w = label.shape
            x = np.pad(x, ((0, 0), (0, -h % 64), (0, -w % 64)))
            heard = leans(lean, np.arange(x.shape[2]), np.arange(x.shape[1])).transpose(2, 0, 1)
            got = (eye(torch.from_numpy(x[None]), torch.from_numpy(heard[None]))[0, 0].numpy()[:h, :w] > 0).astype(np.uint8)
            wrong = ((got != label) & (inside > 0)).astype(np.uint8)
            deep = cv2.erode(wrong, np.ones((3, 3), np.uint8)).sum() * 9
            lost = []
            for side, what in ((label, "part"), (1 - label, "hole")):
                n, ids, stats, _ = cv2.connectedComponentsWithStats(side, connectivity=4)
                same = got if what == "part" else 1 - got
                for k in range(1, n):
                    if stats[k, 4] > 60:
                        here = ids == k
                        if (same[here] > 0).mean() < 0.6:
                            lost.append(f"{what} {stats[k, 4]}")
            lines.append(f"{name}: wrong {wrong.sum()} deep {deep} lost {lost}")
    eye.train()
    return lines


def main():
    ap = argparse.ArgumentParser()
    ap.add_argument("--fields", type=Path, required=True)
    ap.add_argument("--renders", type=Path, nargs="+", required=True)
    ap.add_argument("--export", required=True)
    ap.add_argument("--sheet", required=True)
    ap.add_argument("--held", type=Path, nargs="*", default=[])
    ap.add_argument("--minutes", type=float, default=30)
    ap.add_argument("--side", type=int, default=768)
    ap.add_argument("--crops", type=int, default=2, help="pieces of photos to a step")
    ap.add_argument("--threads", type=int)
    ap.add_argument("--lr", type=float, default=2e-3)
    ap.add_argument("-o", "--out", type=Path, required=True)
    ap.add_argument("--start", type=Path, help="go on from this one: .pt, or .bin as in the program")
    ap.add_argument("--wide", action="store_true", help="an eye that sees cells two by two as one")
    ap.add_argument("--far", action="store_true", help="an eye that sees cells four by four as one")
    a = ap.parse_args()
    torch.manual_seed(1)
    if a.threads:
        torch.set_num_threads(a.threads)
    g = np.random.default_rng(1)
    eye, cells_as_one = Eye(FAR_WIDTHS if a.far else WIDTHS), 4 if a.far else 2 if a.wide else 1
    if a.start:
        if a.start.suffix == ".bin":
            take_over(eye, a.start.read_bytes())
        else:
            eye.load_state_dict(torch.load(a.start))
    print(sum(p.numel() for p in eye.parameters()), "numbers", flush=True)
    held = {m.name.split(".")[0]: load(a.fields, m, m.name.split(".")[0], cells_as_one) for m in a.held}
    scenes, names, tried = [], [], set(held)

    def fetch():
        for m in sorted(m for r in a.renders for m in r.glob("*.mask.png")):
            n = m.name.split(".")[0]
            if n in tried or not m.with_name(f"{n}.truth.json").exists():
                continue
            tried.add(n)
            if not (a.fields / f"{n}.field.json").exists():
                subprocess.run([a.export, "--sheet", a.sheet, "--out", a.fields, m.with_name(f"{n}.jpg")], stdout=subprocess.DEVNULL)
            if (a.fields / f"{n}.field.json").exists():
                scenes.append(load(a.fields, m, n, cells_as_one))
                names.append(n)
    opt = torch.optim.AdamW(eye.parameters(), lr=a.lr, weight_decay=1e-4)
    start, step, total = time.time(), 0, 0.0
    fetch()
    while True:
        t = (time.time() - start) / 60 / a.minutes
        if t >= 1:
            break
        rate = a.lr * min(1, (step + 1) / 50) * (0.5 * (1 + np.cos(np.pi * t)) * 0.98 + 0.02)
        for group in opt.param_groups:
            group["lr"] = rate
        batch = [crop(g, scenes[pick(g, names)], a.side) for _ in range(a.crops)]
        x, y, w, lean = (torch.from_numpy(np.stack(v)) for v in zip(*batch))
        out = eye(x, lean)[:, 0]
        loss = (F.binary_cross_entropy_with_logits(out, y, reduction="none") * w).sum() / w.sum().clamp(min=1)
        opt.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(eye.parameters(), 1.0)
        opt.step()
        step += 1
        total = loss.item() if step == 1 else 0.98 * total + 0.02 * loss.item()
        if step % 50 == 0:
            print(f"step {step} {(time.time() - start) / 60:.1f} min, {len(scenes)} scenes, loss {total:.4f}", flush=True)
        if step % 250 == 0:
            fetch()
            torch.save(eye.state_dict(), a.out)
        if step % 1000 == 0:
            print("\n".join(judge(eye, held)), flush=True)
    torch.save(eye.state_dict(), a.out)
    print("\n".join(judge(eye, held)), flush=True)


if __name__ == "__main__":
    main()
