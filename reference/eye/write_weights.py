#!/usr/bin/env python3
"""Writes what was taught as a file in the program: write_weights.py near.pt near.bin, or write_weights.py --fine fine.pt fine.bin"""
import argparse, struct
from pathlib import Path
import torch
from teach import Eye, tensors_of
from touch import Fine


def halves(tensors):
    return b"".join(t.detach().numpy().astype("<f2").tobytes() for t in tensors)


def of_layers(layers):
    """Plain layers' weights by input, then output, and their biases."""
    return halves(t for layer in layers for t in (layer.weight.T.contiguous(), layer.bias))


def widths_of(taught):
    """How many channels each level of an eye has, from the first."""
    levels = sum(name.startswith("down.") and name.endswith(".weight") for name in taught)
    return [len(taught["stem.0.bias"]), *(len(taught[f"down.{k}.0.bias"]) for k in range(levels))]


def main():
    ap = argparse.ArgumentParser(description=__doc__)
    ap.add_argument("taught", type=Path)
    ap.add_argument("out", type=Path)
    ap.add_argument("--fine", action="store_true", help="the fine eye")
    a = ap.parse_args()
    taught = torch.load(a.taught)
    widths = [] if a.fine else widths_of(taught)
    network = Fine() if a.fine else Eye(widths)
    network.load_state_dict(taught)
    if a.fine:
        data = b"SFIN" + of_layers(network.net[0::2])
    else:
        data = b"SEY2" + struct.pack(f"<{1 + len(widths)}H", len(widths), *widths) + halves(tensors_of(network))
    a.out.write_bytes(data)


if __name__ == "__main__":
    main()
