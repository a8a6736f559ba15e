#!/usr/bin/env python3
"""Writes taught eyes as the files in the program: write_weights.py eye.pt fine.pt ../../crates/capture/src/segment/eye wide.bin"""
import struct, sys
from pathlib import Path
import torch
from teach import Eye, WIDTHS, tensors_of
from touch import Fine


def main():
    eye = Eye()
    eye.load_state_dict(torch.load(sys.argv[1]))
    out = [b"SEY2", struct.pack("<H", len(WIDTHS)), struct.pack(f"<{len(WIDTHS)}H", *WIDTHS)]

    def put(*tensors):
        for t in tensors:
            out.append(t.detach().numpy().astype("<f2").tobytes())
    put(*tensors_of(eye))
    folder = Path(sys.argv[3])
    (folder / sys.argv[4]).write_bytes(b"".join(out))

    fine = Fine()
    fine.load_state_dict(torch.load(sys.argv[2]))
    out = [b"SFIN"]
    with torch.no_grad():
        for layer in fine.net[0::2]:
            put(layer.weight.T.contiguous(), layer.bias)
    (folder / "fine.bin").write_bytes(b"".join(out))


if __name__ == "__main__":
    main()
