"""Every document that `sheets` writes, opened by programs that are not ours: qpdf, poppler; the guide's text, fonts and contents.

    documents.py --setapart BINARY --demo DIR      DIR holds the demo's piece.json
"""
import base64
import io
import json
import os
import re
import shutil
import subprocess
import sys
from html.parser import HTMLParser
from pathlib import Path

from fontTools.ttLib import TTFont

import tally

# ISO 639: words that only the one language's guide has.
LANGUAGES = {"en": ["Before you start", "What you need", "Schedule"], "de": ["Bevor es losgeht", "Was gebraucht wird", "Zeitplan"]}


def run(*args):
    return subprocess.run([str(a) for a in args], capture_output=True, text=True)


class Outside(HTMLParser):
    """Addresses that a page would fetch, and its headings."""

    def __init__(self):
        super().__init__()
        self.fetched, self.ids, self.links = [], set(), []

    def handle_starttag(self, tag, attributes):
        for name, value in attributes:
            if name in ("src", "href", "action", "data", "srcset", "poster") and value:
                if value.startswith("#"):
                    self.links.append(value[1:])
                elif not value.startswith("data:"):
                    self.fetched.append(value)
            if name == "id":
                self.ids.add(value)


class Words(HTMLParser):
    """What a page says."""

    def __init__(self):
        super().__init__()
        self.said, self.hidden = [], False

    def handle_starttag(self, tag, attributes):
        self.hidden = tag in ("style", "script")

    def handle_endtag(self, tag):
        self.hidden = False

    def handle_data(self, data):
        if not self.hidden:
            self.said.append(data)


def check_pdf(pdf, count):
    if shutil.which("qpdf"):
        said = run("qpdf", "--check", pdf)
        count.check(said.returncode == 0 and "warning" not in said.stderr.lower(), f"{pdf.name}: {said.stderr.strip()[:80] or 'clean'}", "qpdf --check")
    else:
        count.skip(f"{pdf.name}: qpdf --check", "qpdf is not here")
    rows = run("pdffonts", pdf).stdout.splitlines()[2:]
    loose = [r.split()[0] for r in rows if r.split()[-5] != "yes"]
    count.check(bool(rows) and not loose, f"{pdf.name}: {len(rows)} fonts embedded ({loose or 'all'})", "pdffonts")
    info = run("pdfinfo", pdf).stdout
    count.check("CreationDate" not in info and "ModDate" not in info, f"{pdf.name}: no time stamp", "pdfinfo")


def check_boxes(pdf, count):
    """Art is trimmed to the board, with a bleed of 3 mm."""
    said = run("pdfinfo", "-box", pdf).stdout
    box = {n: [float(v) * 25.4 / 72 for v in re.search(n + r":\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)\s+([\d.]+)", said).groups()] for n in ("TrimBox", "BleedBox")}
    off = [b - t for t, b in zip(box["TrimBox"], box["BleedBox"])]
    right = all(abs(o - w) < 0.01 for o, w in zip(off, (-3, -3, 3, 3)))
    count.check(right, f"{pdf.name}: bleed beyond the trim {', '.join(f'{o:.2f}' for o in off)} mm", "ISO 32000-1, 14.11.2")


def letters_without_glyph(page):
    """What a page says that the fonts within it cannot draw."""
    fonts = [base64.b64decode(f) for f in re.findall(r"font/woff2;base64,([A-Za-z0-9+/=]+)", page)]
    if len(fonts) < 2:
        return "the fonts"
    reader = Words()
    reader.feed(page)
    drawn = set.intersection(*(set(TTFont(io.BytesIO(f)).getBestCmap()) for f in fonts))
    return "".join(sorted(c for c in set("".join(reader.said)) if not c.isspace() and ord(c) not in drawn))


def main():
    parser = tally.arguments(__doc__)
    parser.add_argument("--demo", type=Path, default=Path(os.environ.get("SETAPART_DEMO_OUT", "demo-out")))
    args = parser.parse_args()
    out = args.out / "documents"
    count = tally.Tally()
    source = args.demo / "piece.json"
    piece = json.loads(source.read_text())
    for language, words in LANGUAGES.items():
        folder = out / language
        tally.run(args.setapart, "sheets", "--in", source, "--out", folder, "--language", language, "--art", "night" if language == "de" else "terraces")
        pdfs = sorted(folder.glob("*.pdf"))
        count.check(len(pdfs) >= 5, f"{language}: {len(pdfs)} documents", "sheets")
        for pdf in pdfs:
            check_pdf(pdf, count)
        check_boxes(folder / "board-art.pdf", count)
        guide = folder / "guide.pdf"
        if not guide.exists():
            count.skip(f"{language}: the guide", "the piece has no build plan")
            continue
        text = " ".join(run("pdftotext", guide, "-").stdout.split())
        names = [p["name"] for p in piece["parts"]]
        missing = [w for w in words + names if w not in text]
        count.check(not missing, f"guide.pdf in {language}: text found (missing: {missing or 'nothing'})", "pdftotext")
        if shutil.which("qpdf"):
            listed = json.loads(run("qpdf", "--json", "--json-key=outlines", guide).stdout)["outlines"]
            titles = [o["title"] for o in listed]
            count.check(all(w in titles for w in words), f"guide.pdf in {language}: {len(titles)} chapters in its contents", "qpdf --json")
        page = (folder / "guide.html").read_text()
        parser = Outside()
        parser.feed(page)
        dangling = [link for link in parser.links if link not in parser.ids]
        count.check(not parser.fetched, f"guide.html in {language}: fetches nothing ({parser.fetched[:3] or 'nothing'})", "html.parser")
        lacking = letters_without_glyph(page)
        count.check(not lacking, f"guide.html in {language}: its own fonts have all of its letters (missing: {lacking or 'none'})", "fontTools")
        count.check(not dangling, f"guide.html in {language}: {len(parser.links)} links inside, all lead somewhere", "html.parser")
    return count.close()


if __name__ == "__main__":
    sys.exit(main())
