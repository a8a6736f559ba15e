#!/usr/bin/env python3
"""Teaches the round eye to tell the rims of holes from print, pits and edges, on practice scenes.

    rounds.py --renders DIR... --fields DIR... -o ../../crates/capture/src/segment/eye/round.bin

RENDERS are made by practice.py, FIELDS by teach.py. Taught twice: on circles that edges vote for, then also on those that the first
network took for holes or nearly, where it moved them, and on print drawn on the same faces.
"""
import argparse, multiprocessing, zlib
from pathlib import Path
import cv2
import numpy as np
import torch
from torch import nn
from faces import ANGLES, RAYS, faces, truth_of
from walls import Scene
from write_weights import of_layers

SHARE_OF_NONE = 0.3            # of the circles that are no holes so many are learnt from
HELD = 7                       # every seventh scene is only judged


class Round(nn.Module):
    def __init__(self, first=80, second=48, told=24, heard=48, last=32):
        super().__init__()
        self.ray = nn.Sequential(nn.Linear(72 + 6, first), nn.ReLU(), nn.Linear(first, second), nn.ReLU(), nn.Linear(second, told))
        self.head = nn.Sequential(nn.Linear(5 * told + 3, heard), nn.ReLU(), nn.Linear(heard, last), nn.ReLU(), nn.Linear(last, 4))

    def forward(self, light, about, mirrored=False):
        n, angles = len(light), torch.from_numpy(ANGLES).float()
        cos, sin = torch.cos(angles), torch.sin(angles) * (-1 if mirrored else 1)
        radius, shift, height = (about[:, k:k + 1] for k in range(3))
        deep = 1 - torch.hypot(shift + cos, sin + 0 * shift)       # how deep the foot's rim lies inside the circle, in radii
        known = [cos.expand(n, RAYS), sin.expand(n, RAYS), deep] + [v.expand(n, RAYS) for v in (shift, radius, height)]
        f = self.ray(torch.cat([light, torch.stack(known, -1)], -1))
        turned = [(f * v[None, :, None]).mean(1) for v in (cos, sin)]
        return self.head(torch.cat([f.mean(1), f.max(1)[0], f.min(1)[0], *turned, about], 1))


def ask(network, face, circles):
    """The odds of each circle, and where its rim lies then."""
    light, about = face.rays(circles)
    with torch.no_grad():
        said = network(torch.from_numpy(light).float(), torch.from_numpy(about)).numpy()
    a, moved = face.turn(circles), circles.copy()
    along, left = said[:, 1] * circles[:, 2], said[:, 2] * circles[:, 2]
    moved[:, 0] += np.cos(a) * along - np.sin(a) * left
    moved[:, 1] += np.sin(a) * along + np.cos(a) * left
    moved[:, 2] *= 1 + np.clip(said[:, 3], -0.5, 0.5)
    return said[:, 0], moved


class Lessons:
    def __init__(self):
        self.kept = []

    def add(self, face, circles, truth, off, chosen):
        chosen = chosen & (truth >= 0)
        if chosen.any():
            self.kept.append((*face.rays(circles[chosen]), truth[chosen].astype(np.float32), off[chosen].astype(np.float32)))

    def all(self):
        return [np.concatenate(v) for v in zip(*self.kept)] if self.kept else None


def first_lessons(face, holes, lessons, g):
    circles = face.circles()
    truth, off = truth_of(face, circles, holes)
    lessons.add(face, circles, truth, off, (truth > 0) | (g.random(len(circles)) < SHARE_OF_NONE))
    if len(holes):
        off_by = g.normal(0, 1, (6 * len(holes), 3)) * [0.2, 0.2, 0.13]
        off_by[::3] *= 0.3
        near = np.repeat(holes[:, :3], 6, 0) * [1, 1, 1] + off_by * np.repeat(holes[:, 2:3], 6, 0)
        near = near[near[:, 2] > 0.4]
        lessons.add(face, near, *truth_of(face, near, holes), np.ones(len(near), bool))
    printed = face.printed(g)
    circles = printed.circles()
    truth, off = truth_of(printed, circles, holes)
    some = np.zeros(len(circles), bool)
    some[g.permutation(len(circles))[:250]] = True
    lessons.add(printed, circles, truth, off, some & (truth == 0))


def harder_lessons(face, holes, lessons, g, network):
    """What a network takes for a hole, or nearly, where it is asked and once it was moved."""
    for again in range(4):
        seen = face.printed(g) if again else face
        circles = seen.circles()
        circles = circles[g.permutation(len(circles))[:800]] if again else circles
        for least in (-2.5, -1.5):
            if not len(circles):
                break
            odds, moved = ask(network, seen, circles)
            truth, off = truth_of(seen, circles, holes)
            likely = (odds > least) & (moved[:, 2] > 0.4)
            likely &= (truth == 0) if again else likely
            lessons.add(seen, circles, truth, off, likely)
            circles = moved[likely] + g.normal(0, 0.02, (likely.sum(), 3))


def lessons_of(task):
    name, renders, fields, network = task
    cv2.setNumThreads(1)
    torch.set_num_threads(1)
    g, lessons = np.random.default_rng(zlib.crc32(name.encode())), Lessons()
    for face, holes in faces(Scene(name, renders, fields)):
        if network is None:
            first_lessons(face, holes, lessons, g)
        else:
            harder_lessons(face, holes, lessons, g, network)
    return name, lessons.all()


def gathered(scenes, network=None):
    with multiprocessing.Pool() as pool:
        found = pool.map(lessons_of, [(*s, network) for s in scenes], 1)
    found = [(name, lessons) for name, lessons in found if lessons]
    # Photos of one scene stay together: s0850, s0850a, s0850b.
    scene = np.concatenate([np.full(len(v[2]), int(name[1:5])) for name, v in found])
    return [torch.from_numpy(np.concatenate(v)) for v in zip(*(v for _, v in found))] + [scene]


def taught(lessons, harder, steps, g):
    light, about, truth, off, scene = lessons
    hard = np.zeros(len(truth), bool)
    if harder:
        hard = np.r_[hard, np.ones(len(harder[2]), bool)]
        light, about, truth, off = (torch.cat([a, b]) for a, b in zip(lessons[:4], harder[:4]))
        scene = np.r_[scene, harder[4]]
    held = np.isin(scene, np.unique(scene)[::HELD])
    is_hole = truth.numpy() > 0
    holes, plain, others = (np.nonzero(~held & v)[0] for v in (is_hole, ~is_hole & ~hard, ~is_hole & hard))
    print(len(holes), "holes,", len(plain) + len(others), "others;", int((held & is_hole).sum()), "and", int((held & ~is_hole).sum()), "held out", flush=True)
    network = Round()
    opt = torch.optim.AdamW(network.parameters(), lr=3e-3, weight_decay=3e-3)
    for step in range(steps):
        i = np.r_[g.choice(holes, 256), g.choice(plain, 384 if harder else 768), g.choice(others, 512) if harder else []].astype(int)
        b, n = light[i].float(), len(i)
        b = b * (1 + 0.1 * torch.randn(n, 1, 1)) + 0.08 * torch.randn(n, 1, 1) + 0.04 * torch.randn(b.shape)
        b = b + (0.05 * torch.randn(n, 1, 3)).repeat(1, 1, b.shape[-1] // 3)
        mirrored, to = bool(step % 2), off[i].clone()
        if mirrored:
            to[:, 1] *= -1
        for group in opt.param_groups:
            group["lr"] = 3e-3 * 0.5 * (1 + np.cos(np.pi * step / steps)) + 1e-5
        said, there = network(b, about[i], mirrored), truth[i] > 0
        loss = nn.functional.binary_cross_entropy_with_logits(said[:, 0], truth[i])
        loss = loss + 2 * (said[there, 1:] - to[there]).abs().mean()
        opt.zero_grad()
        loss.backward()
        opt.step()
        if step % 1000 == 999:
            judge(network, light, about, truth, off, np.nonzero(held)[0], step + 1)
    return network


def judge(network, light, about, truth, off, held, step):
    with torch.no_grad():
        said = torch.cat([network(light[k].float(), about[k]) for k in np.array_split(held, 20)])
    hole, odds = truth[held].numpy() > 0, said[:, 0].numpy()
    told = ", ".join(f"{(odds > t)[hole].mean():.2f} and {int((odds > t)[~hole].sum())} above {t}" for t in (0, 2, 4))
    off_mm = ((said[:, 1:] - off[held])[hole] * torch.exp(about[held][hole][:, :1])).abs().median(0)[0]
    print(f"step {step}: of holes and of others held out {told}; off by {[round(float(v), 3) for v in off_mm]} mm", flush=True)


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("--renders", type=Path, nargs="+", required=True)
    ap.add_argument("--fields", type=Path, nargs="+", required=True)
    ap.add_argument("--steps", type=int, nargs=2, default=(4000, 8000))
    ap.add_argument("-o", "--out", type=Path, required=True)
    a = ap.parse_args()
    torch.manual_seed(1)
    g = np.random.default_rng(1)
    scenes = [(p.name.split(".")[0], renders, fields) for renders, fields in zip(a.renders, a.fields)
              for p in sorted(renders.glob("*.truth.json")) if (fields / f"{p.name.split('.')[0]}.field.json").exists()]
    lessons = gathered(scenes)
    network = taught(lessons, None, a.steps[0], g)
    network = taught(lessons, gathered(scenes, network), a.steps[1], g)
    a.out.write_bytes(b"SRND" + of_layers([*network.ray[0::2], *network.head[0::2]]))


if __name__ == "__main__":
    main()
