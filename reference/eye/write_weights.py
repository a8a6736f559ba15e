#!/usr/bin/env python3
"""Writes what was taught as a file in the program: write_weights.py near.pt near.bin, or write_weights.py --fine fine.pt fine.bin"""
import argparse, struct
from pathlib import Path
import torch
from teach import Eye, WIDTHS, tensors_of
from touch import Fine


def halves(tensors):
    return b"".join(t.detach().numpy().astype("<f2").tobytes() for t in tensors)


def of_layers(layers):
    """Plain layers' weights by input, then output, and their biases."""
    return halves(t for layer in layers for t in (layer.weight.T.contiguous(), layer.bias))


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("taught", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("--fine", action="store_true", help="the fine eye")
    a = ap.parse_args()
    network = Fine() if a.fine else Eye()
    network.load_state_dict(torch.load(a.taught))
    if a.fine:
        data = b"SFIN" + of_layers(network.net[0::2])
    else:
        data = b"SEY2" + struct.pack(f"<{1 + len(WIDTHS)}H", len(WIDTHS), *WIDTHS) + halves(tensors_of(network))
    a.out.write_bytes(data)


if __name__ == "__main__":
    main()
