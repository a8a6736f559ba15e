"""Printed pages measured with poppler: page sizes, 100 mm bars, embedded fonts, text.

    pages.py --setapart BINARY --demo DIR      DIR holds the demo's PDFs and piece.json

A bar is found without our code: poppler says where the words "100 mm" stand, a strip around them is
rendered at 1200 dpi, and the bar is what runs from the words to an end tick on either side.
"""
import json
import os
import re
import subprocess
import sys
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

import tally

POPPLER = "poppler, 1200 dpi"
DPI = 1200
PX_PER_MM = DPI / 25.4
PT_MM = 25.4 / 72
LIMIT_MM = 0.05

# ISO 216: A4 210 x 297, A3 297 x 420. US Letter 8.5 x 11 in, Tabloid 11 x 17 in.
PAPERS = {"a4": (210.0, 297.0, "ISO 216"), "letter": (215.9, 279.4, "8.5 x 11 in"),
          "a3": (297.0, 420.0, "ISO 216"), "tabloid": (279.4, 431.8, "11 x 17 in")}
PAGE_LIMIT_MM = 0.1


def poppler(tool, *args):
    done = subprocess.run([tool, *map(str, args)], capture_output=True, text=True)
    if done.returncode != 0:
        raise RuntimeError(f"{tool}: {done.stderr.strip()}")
    return done.stdout


def page_sizes_mm(pdf):
    """Width and height of every page."""
    said = poppler("pdfinfo", "-f", 1, "-l", 100000, pdf)
    return [(float(w) * PT_MM, float(h) * PT_MM) for w, h in re.findall(r"^Page +\d+ size: +([\d.]+) x ([\d.]+) pts", said, re.M)]


def words(pdf):
    """For every page its words: text and box (left, top, right, bottom) in mm from the page's upper left corner."""
    said = re.sub(r"[\x00-\x08\x0b\x0c\x0e-\x1f]", "", poppler("pdftotext", "-bbox", pdf, "-"))
    pages = ElementTree.fromstring(said).iter("{http://www.w3.org/1999/xhtml}page")
    return [[(w.text or "", tuple(float(w.get(k)) * PT_MM for k in ("xMin", "yMin", "xMax", "yMax")))
             for w in page.iter("{http://www.w3.org/1999/xhtml}word")] for page in pages]


def labels(page_words, said=("100", "mm")):
    """Boxes of runs of words that begin with "100 mm", or with what is `said`, and whether they run across or up the page."""
    found = []
    for i, (text, box) in enumerate(page_words[:-1]):
        following, next_box = page_words[i + 1]
        if text != said[0] or not following.startswith(said[1]):
            continue
        upright = abs(next_box[0] - box[0]) < abs(next_box[1] - box[1])
        run = [box]
        for _, b in page_words[i + 1:]:
            near = (abs(b[0] - run[-1][0]) < 0.5 and abs(b[3] - run[-1][1]) < 2.5) if upright else \
                   (abs(b[1] - run[-1][1]) < 0.5 and abs(b[0] - run[-1][2]) < 2.5)
            if not near:
                break
            run.append(b)
        found.append((tuple(f(b[k] for b in run) for k, f in enumerate((min, min, max, max))), upright))
    return found


def strip(pdf, page, box_mm, size_mm):
    """Darkness (0 paper, 1 ink) of a window of a page at 1200 dpi, and the window's left and top in pixels."""
    x0, y0 = (max(int(v * PX_PER_MM), 0) for v in box_mm[:2])
    x1, y1 = (int(min(v, s) * PX_PER_MM) for v, s in zip(box_mm[2:], size_mm))
    picture = subprocess.run(["pdftoppm", "-r", str(DPI), "-gray", "-f", str(page), "-l", str(page), "-x", str(x0), "-y", str(y0),
                              "-W", str(x1 - x0), "-H", str(y1 - y0), str(pdf)], capture_output=True, check=True).stdout
    header = re.match(rb"P5\s+(\d+)\s+(\d+)\s+255\s", picture)
    w, h = int(header[1]), int(header[2])
    return 1 - np.frombuffer(picture, np.uint8, w * h, header.end()).reshape(h, w) / 255.0, x0, y0


def bar_length_mm(pdf, page, label, upright, size_mm):
    """Length of the bar that the label stands in, between the middles of its end ticks; None where there is no bar."""
    left, top, right, bottom = label
    reach, side = 60.0, 4.0
    if upright:
        window = ((left + right) / 2 - side, bottom - 1 - reach - (bottom - top), (left + right) / 2 + side, top + 1 + reach + (bottom - top))
    else:
        window = (right - 1 - reach - (right - left), (top + bottom) / 2 - side, left + 1 + reach + (right - left), (top + bottom) / 2 + side)
    ink, x0, y0 = strip(pdf, page, window, size_mm)
    if upright:     # lay it along x
        ink, first, last, middle = ink.T, top * PX_PER_MM - y0, bottom * PX_PER_MM - y0, (left + right) / 2 * PX_PER_MM - x0
    else:
        first, last, middle = left * PX_PER_MM - x0, right * PX_PER_MM - x0, (top + bottom) / 2 * PX_PER_MM - y0
    ends = [end_tick(ink, start, step, middle) for start, step in ((first, -1), (last, 1))]
    if None in ends or abs(ends[0][1] - ends[1][1]) > 0.1 * PX_PER_MM:
        return None
    return (ends[1][0] - ends[0][0]) / PX_PER_MM


def end_tick(ink, start, step, middle):
    """Where the end tick stands that a line leads to from the label's edge, and the line's row, pixels.

    None where there is no line, or what is dark there is more than a line, or no tick ends it.
    """
    mm = PX_PER_MM
    # The line: the darkest row near the label's middle, 4 to 8 mm beyond the label.
    a, b = sorted((start + step * 4 * mm, start + step * 8 * mm))
    rows = np.arange(max(int(middle - 2 * mm), 0), min(int(middle + 2 * mm), len(ink)))
    if a < 0 or b >= ink.shape[1] or len(rows) == 0:
        return None
    means = ink[rows, int(a):int(b)].mean(axis=1)
    if means.max() < 0.9 or (means > 0.5).sum() > 0.7 * mm:
        return None
    row = rows[np.argmax(means)]
    # Along the line to its end.
    dark = ink[row] > 0.5
    x = int(start + step * 5 * mm)
    while 0 <= x + step < len(dark) and dark[x + step]:
        x += step
    # The tick there reaches over a millimetre to both sides of the line.
    near = slice(max(int(x - 1.0 * mm), 0), int(x + 1.0 * mm) + 1)
    profiles = []
    for side in (-1, 1):
        r = np.round(row + side * np.linspace(1.15, 1.35, 5) * mm).astype(int)
        if r.min() < 0 or r.max() >= len(ink):
            return None
        profiles.append(ink[r, near].mean(axis=0))
    profile = np.minimum(*profiles)
    if profile.max() < 0.5:
        return None
    return near.start + float((profile * np.arange(len(profile))).sum() / profile.sum()), row


def check_sizes(pdf, paper, count):
    w, h, source = PAPERS[paper]
    sizes = page_sizes_mm(pdf)
    off = [f"{a:.2f} x {b:.2f}" for a, b in sizes if np.abs(np.subtract(sorted((a, b)), (w, h))).max() > PAGE_LIMIT_MM]
    count.check(bool(sizes) and not off, f"{pdf.name}: {len(sizes)} pages of {w} x {h} mm ({off or 'all'})", source)


def check_bars(pdf, want_x, want_y, count, lines, said=("100", "mm")):
    """One check per page: a bar along each axis, each as long as it should be."""
    for page, (page_words, size) in enumerate(zip(words(pdf), page_sizes_mm(pdf)), 1):
        across, up = [], []
        for label, upright in labels(page_words, said):
            length = bar_length_mm(pdf, page, label, upright, size)
            if length is not None:
                (up if upright else across).append(length)
        right = bool(across) and bool(up) and all(abs(v - want_x) <= LIMIT_MM for v in across) and all(abs(v - want_y) <= LIMIT_MM for v in up)
        told = f"across {', '.join(f'{v:.3f}' for v in across) or 'none'}; up {', '.join(f'{v:.3f}' for v in up) or 'none'}"
        lines.append(f"{pdf.name:32} page {page:3d}  {told}  (wanted {want_x:.2f}, {want_y:.2f})")
        count.check(right, f"{pdf.name} page {page}: bars {told}, wanted {want_x:.2f} and {want_y:.2f} +- {LIMIT_MM}", POPPLER)


def check_fonts_and_text(pdf, expected, count):
    rows = poppler("pdffonts", pdf).splitlines()[2:]
    # The columns after the name: emb sub uni, object id (two numbers).
    loose = [r.split()[0] for r in rows if r.split()[-5] != "yes"]
    count.check(bool(rows) and not loose, f"{pdf.name}: {len(rows)} fonts embedded ({loose or 'all'})", "pdffonts")
    text = " ".join(poppler("pdftotext", pdf, "-").split())
    missing = [w for w in expected if w not in text]
    count.check(not missing, f"{pdf.name}: its text can be taken out (missing: {missing or 'nothing'})", "pdftotext")


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--demo", type=Path, default=Path(os.environ.get("SETAPART_DEMO_OUT", "demo-out")))
    args = parser.parse_args()
    out = args.out / "pages"
    out.mkdir(parents=True, exist_ok=True)
    count, lines = tally.Tally(), []
    piece = args.demo / "piece.json"
    for paper in PAPERS:
        sheet = out / f"capture-sheet-{paper}.pdf"
        tally.run(args.setapart, "capture-sheet", "--paper", paper, "--out", sheet)
        check_sizes(sheet, paper, count)
        check_bars(sheet, 100.0, 100.0, count, lines)
        check_fonts_and_text(sheet, ["100 mm"], count)
        folder = out / paper
        tally.run(args.setapart, "sheets", "--in", piece, "--out", folder, "--paper", paper)
        tiled = folder / f"template-{paper}.pdf"
        check_sizes(tiled, paper, count)
        check_bars(tiled, 100.0, 100.0, count, lines)
        check_fonts_and_text(tiled, ["100 mm"], count)
    whole = args.demo / "template-whole.pdf"
    check_bars(whole, 100.0, 100.0, count, lines)
    captions = [" ".join(c["text"].split()) for c in json.loads(piece.read_text())["captions"]]
    check_fonts_and_text(whole, ["100 mm", *captions], count)
    # A printer that makes 99.6 of 100 mm across and 100.2 up needs bars of 100 / 0.996 and 100 / 1.002.
    corrected = out / "corrected"
    tally.run(args.setapart, "sheets", "--in", piece, "--out", corrected, "--paper", "a4", "--printed-x", 99.6, "--printed-y", 100.2)
    check_sizes(corrected / "template-a4.pdf", "a4", count)
    check_bars(corrected / "template-a4.pdf", 100 / 0.996, 100 / 1.002, count, lines)
    # Sheets in inches have bars of 4 in, 101.6 mm; a printer that makes 3.98 of 4 in across needs bars of 101.6 / 0.995.
    inches = out / "inches"
    tally.run(args.setapart, "sheets", "--in", piece, "--out", inches, "--paper", "letter", "--units", "inch", "--language", "de",
              "--printed-x", 3.98)
    for name in ("template-letter.pdf", "template-whole.pdf", "captions-letter.pdf"):
        check_bars(inches / name, 101.6 / 0.995, 101.6, count, lines, ("4", "in"))
    (args.out / "pages.txt").write_text("\n".join(lines) + "\n")
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
