"""Makes the fonts for pages: Latin alone, as WOFF2, renamed as the licence asks. Needs fonttools and brotli.

    python make_web_fonts.py
"""
from pathlib import Path

from fontTools import subset
from fontTools.ttLib import TTFont

HERE = Path(__file__).parent
FAMILY = "Setapart Text"
LETTERS = [*range(0x20, 0x7F), *range(0xA0, 0x180), *range(0x2010, 0x2023), *range(0x2030, 0x203B)]
SIGNS = "ΩµπσΔ…€←↑→↓−√∞≈≠≤≥●○‑⁰¹²³⁴⁵⁶⁷⁸⁹₀₁₂₃₄₅₆₇₈₉"

for face, name in (("Regular", "Regular"), ("SemiBold", "SemiBold")):
    font = TTFont(HERE / f"SourceSans3-{face}.ttf", recalcTimestamp=False)
    options = subset.Options(layout_features=["kern", "liga", "locl", "ccmp", "mark", "mkmk", "tnum", "lnum", "pnum", "case", "frac"],
                             name_IDs=["*"], hinting=False, notdef_outline=True)
    cut = subset.Subsetter(options)
    cut.populate(unicodes=[*LETTERS, *map(ord, SIGNS)])
    cut.subset(font)
    names = {1: FAMILY, 3: f"{FAMILY} {name}", 4: f"{FAMILY} {name}", 25: FAMILY.replace(" ", ""), 6: f"{FAMILY.replace(' ', '')}-{name}", 16: FAMILY}
    for record in font["name"].names:
        if record.nameID in names:
            record.string = names[record.nameID]
    font.flavor = "woff2"
    font.save(HERE / f"setapart-text-{face.lower()}.woff2")
