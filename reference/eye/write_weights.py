#!/usr/bin/env python3
"""Writes taught eyes as the files in the program: write_weights.py eye.pt fine.pt ../../crates/capture/src/segment/eye"""
import struct, sys
from pathlib import Path
import torch
from teach import Eye, WIDTHS
from touch import Fine


def numbers(block):
    return block[0].weight, block[0].bias


def main():
    state = torch.load(sys.argv[1])
    eye = Eye(tuple(WIDTHS))
    eye.load_state_dict(state)
    eye.eval()
    out = [b"SEYE", struct.pack("<H", len(WIDTHS)), struct.pack(f"<{len(WIDTHS)}H", *WIDTHS)]

    def put(w, b):
        for t in (w, b):
            out.append(t.detach().numpy().astype("<f2").tobytes())
    with torch.no_grad():
        put(*numbers(eye.stem))
        for d, l in zip(eye.down, eye.look):
            put(*numbers(d))
            put(*numbers(l[0]))
            put(*numbers(l[1]))
        for u, j in zip(eye.up, eye.join):
            put(u.weight, u.bias)
            put(*numbers(j))
        put(eye.head.weight, eye.head.bias)
    folder = Path(sys.argv[3])
    (folder / "eye.bin").write_bytes(b"".join(out))

    fine = Fine()
    fine.load_state_dict(torch.load(sys.argv[2]))
    out = [b"SFIN"]
    with torch.no_grad():
        for layer in fine.net[0::2]:
            put(layer.weight.T.contiguous(), layer.bias)
    (folder / "fine.bin").write_bytes(b"".join(out))


if __name__ == "__main__":
    main()
