#!/usr/bin/env python3
"""Writes a taught eye as the file in the program: write_weights.py eye.pt ../../crates/capture/src/segment/eye/eye.bin"""
import struct, sys
import numpy as np
import torch
from teach import Eye, WIDTHS


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
    open(sys.argv[2], "wb").write(b"".join(out))


if __name__ == "__main__":
    main()
