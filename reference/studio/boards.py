"""Main board, audio board, and the ribbons that join them and the display."""
import numpy as np
from shapely.geometry import LineString, box
from shapely.ops import unary_union
from circuit import GOLD, TIN, Board
from device import (MARK, NAME, PILLS, POSTS, RECORD, SCREWS, SPEAKER, WHEEL, Part, bird, crect, disk, rrect, soften)

DISPLAY_SOCKET, LINK_SOCKET, LINK_FOOT, DISPLAY_TAIL = (39.0, 67.6), (46.6, 41.6), (15.6, 30.6), (20.0, 91.0)


def main_board():
    shape = box(4.2, 38.2, 59.8, 101.4)
    shape -= box(55.0, 92.0, 60, 95.2) | box(4, 62.8, 6.0, 66.4) | box(24, 100.2, 40, 102) | box(58.4, 64.5, 60, 72.5)
    shape = soften(shape, 0.7)
    shape = (shape & rrect(4.2, 38.2, 59.8, 101.4, 2.2))
    for x, y in POSTS:
        shape -= disk(x, y, 1.35)
    shape -= crect(44.2, 66.2 - 3.6, 1.6, 2.6, 0.79)
    p = Part("main-board", "Main board", "board", shape, 1.6, 4, (30, 74, 56), 0.42, mass=16.4, back="fr4", bevel=0.08, ppm=24)
    p.side = {"rgb": [150, 142, 96], "rough": 0.6, "metal": 0.0}
    b = Board(p, (30, 74, 56), (50, 104, 78), (22, 58, 44), (226, 228, 218), 21)
    f = p.face
    for x, y in POSTS:
        b.mount(x, y, 1.35)
    # keys and wheel
    for x, y in PILLS:
        b.keypads(x, y, crect(x, y, 7.0, 5.0, 2.4))
    b.keypads(*RECORD, disk(*RECORD, 4.9))
    b.keypads(*MARK, disk(*MARK, 4.0))
    for (x, y), words, dy in [(q, w, 3.35) for q, w in zip(PILLS, ("BACK", "PLAY", "ON"))] + [(RECORD, "RECORD", 5.9), (MARK, "MARK", 5.0)]:
        b.label(x, y + dy, words, 0.75)
    wx, wy = WHEEL
    for k in (-2, 0, 2):
        b.solder(wx + k, wy - 5.6, 0.9, 1.2)
        b.pins.append((wx + k, wy - 6.6))
    steel = {"rgb": [188, 187, 182], "rough": 0.32, "metal": 1.0}
    p.slab(crect(wx, wy, 8.4, 9.4, 0.4), 1.6, 2.0, side=steel, bevel=0.15)
    p.slab(disk(wx, wy, 3.2), 3.6, 0.5, side=steel, bevel=0.08)
    p.slab(disk(wx, wy, 1.6) - box(wx - 2, wy + 0.9, wx + 2, wy + 2), 4.1, 0.9, side={"rgb": [176, 150, 92], "rough": 0.3, "metal": 1.0}, bevel=0.15)
    b.take(crect(wx, wy, 9.0, 11.4, 0.2), 0.4)

    def encoder():
        f.level(crect(wx, wy, 8.5, 9.5, 0.4))
        f.rect(wx, wy, 8.4, 9.4, (192, 191, 186), r=0.4, rough=0.34, metal=1.0)
        for s in (1, -1):
            f.rect(wx + s * 3.3, wy, 0.7, 4.0, (60, 60, 58), rough=0.8, metal=0.0, bump=-0.05)
            f.rect(wx, wy + s * 4.1, 4.0, 0.5, (120, 120, 116), rough=0.6, metal=0.6, bump=-0.05)
        f.disk(wx, wy, 3.2, (200, 198, 192), rough=0.28, metal=1.0)
        f.disk(wx, wy, 1.75, (70, 62, 44), rough=0.6, metal=0.6)
        f.disk(wx, wy, 1.6, (196, 170, 108), rough=0.3, metal=1.0)
    b.later.append(encoder)
    b.label(wx - 0.2, wy + 6.2, "LEVEL", 0.75)
    # sockets
    b.socket(*DISPLAY_SOCKET, 12.4, 18, words="", flip=1)
    b.label(DISPLAY_SOCKET[0] - 9.6, DISPLAY_SOCKET[1] + 0.2, "DISPLAY", 0.75)
    b.socket(*LINK_SOCKET, 8.6, 12, flip=-1)
    b.label(LINK_SOCKET[0] - 1.4, LINK_SOCKET[1] + 3.3, "LINK", 0.75)
    b.plug(56.1, 77.2, 2, turn=90, words="")
    b.label(52.6, 77.2, "CELL", 0.75, turn=90)
    b.label(52.5, 80.3, "+", 1.0)
    # brains
    b.quad(30.0, 85.6, 11.0, 1.3, 17, ["DAWN-7", "CORE 48", "2241 T3", "K09-118"], lead=0.85)
    b.flat(18.2, 87.4, 7.6, 9.6, 1.0, ["MK 64", "S2D", "2238"])
    b.rows(17.8, 97.2, 4.0, 4.9, 1.3, 4, ["F25", "H16"], turn=90, lead=0.8)
    b.can(46.8, 85.0, 12.6, 12.0, 2.2, ["TARNWICK", "RX-3"])
    b.crystal(25.6, 95.0, 6.6, 2.8, 1.5, "24.000")
    b.crystal(38.6, 92.6, 1.9, 5.6, 1.2, "32k", turn=90)
    b.coil(50.2, 70.8, 5.2, 2.2, "4R7")
    b.coil(47.6, 96.6, 4.0, 1.8, "2R2")
    b.rows(30.6, 74.6, 3.9, 5.0, 1.3, 4, ["PW4", "31B"], turn=90, lead=0.8)
    b.quad(39.6, 75.4, 4.0, 0.9, 5, ["CH2", "07"], lead=0.35)
    b.flat(52.6, 97.6, 2.6, 2.0, 0.7, ["V1"])
    # card slot: a folded steel hood with a spring window
    cx, cy, cw, ch = 14.0, 74.0, 14.4, 13.4
    for s in (1, -1):
        for k in (-5, 5):
            b.solder(cx + s * (cw / 2 + 0.1), cy + k, 1.0, 1.5)
    for k in range(8):
        b.solder(cx + (k - 3.5) * 1.1, cy + ch / 2 + 0.3, 0.5, 1.2)
        b.pins.append((cx + (k - 3.5) * 1.1, cy + ch / 2 + 1.2))
    windows = unary_union([crect(cx - 3.2, cy + 2.8, 1.5, 4.8, 0.3), crect(cx + 3.2, cy + 2.8, 1.5, 4.8, 0.3), crect(cx, cy - 5.6, 6.0, 1.0, 0.45)])
    hood = crect(cx, cy, cw, ch, 0.4)
    p.slab(hood, 1.6, 1.2, side=steel, bevel=0.0)
    p.slab(hood - windows, 2.8, 0.3, side=steel, bevel=0.1)
    b.take(crect(cx, cy, cw + 1, ch + 1.6, 0.1), 0.4)

    def slot():
        f.level(hood)
        f.paint(hood, (198, 197, 192), rough=0.34, metal=1.0)
        f.paint(windows.buffer(0.05), (30, 30, 30), rough=0.8, metal=0.0)
        for s in (-3.2, 3.2):
            f.rect(cx + s, cy + 3.4, 0.7, 3.6, (190, 188, 180), rough=0.3, metal=1.0)
        f.paint(crect(cx, cy - 1.6, 9.0, 3.2, 0.8), None, soft=0.15, bump=-0.1)
        f.text(cx, cy - 1.6, "PUSH", 1.2, (96, 96, 92), "bold", spacing=0.3, metal=0.4, bump=-0.02)
        card = [(cx - 1.3, cy + 0.9), (cx - 1.3, cy + 4.9), (cx + 0.5, cy + 4.9), (cx + 1.3, cy + 4.1), (cx + 1.3, cy + 0.9), (cx - 1.3, cy + 0.9)]
        f.line(card, 0.2, (90, 90, 88), metal=0.4, bump=-0.02)
    b.later.append(slot)
    b.label(cx, cy - 8.1 + 0.6, "CARD", 0.75)
    b.passives(24.0, 68.8, 5, 1.3, "CCCCC", 90, "x", True)
    b.passives(38.8, 83.0, 4, 1.3, "CRCR", 0, "y")
    b.passives(30.0, 77.9 + 0.8, 6, 1.3, "C", 90, "x")
    b.testpoints([(43.8, 58.5 + 2.6), (9.0, 53.0), (22.0, 52.0), (24.0, 47.4), (24.0, 42.0), (39.8, 50.5), (27.2, 97.9), (31.4, 97.9), (35.6, 97.9)])
    for q in ((8.0, 92.0), (57.0, 61.2)):                # fiducials
        f.disk(*q, 1.1, (24, 60, 46))
        f.disk(*q, 0.5, TIN, rough=0.35, metal=1.0)
        b.take(disk(*q, 1.1), 0.1)
    mark_room = rrect(23.4, 51.2, 41.6, 54.8, 0.3)
    b.take(mark_room, 0.0)
    b.label(34.2, 53.7, f"{NAME.upper()} D3-MAIN", 0.95, face="bold")
    b.label(32.6, 52.0, "REV C  41-0312", 0.7)
    b.later.append(lambda: f.paint(bird(25.2, 53.0, 3.2), b.silk, a=0.9))
    b.fill(44)
    print("main board traces:", b.route(150))
    b.finish()
    f.paint(p.outline - p.outline.buffer(-0.32), (26, 62, 46), a=0.8)
    f.weather(silt=0.45, tide=0.75, dust=0.2, scratches=8, crevice=0.5, scratch_rgb=(120, 150, 130))
    near = np.clip(f.crevices(1.2) * 1.5, 0, 1)
    f.bloom((122, 176, 150), "verdigris", 0.85, 2.0, 1.25, near)
    f.bloom((214, 214, 200), "salt", 0.6, 1.4, 1.5, near)
    return p


def audio_board():
    shape = rrect(4.2, 4.2, 59.8, 36.6, 1.6) & rrect(4.2, 4.2, 59.8, 60, 8.8)
    shape -= box(24.5, 33.6, 39.5, 40)
    shape = soften(shape, 0.7) - disk(*SPEAKER, 9.3)
    for x, y in SCREWS[1:]:
        shape -= disk(x, y, 1.7)
    p = Part("audio-board", "Audio board", "board", shape, 1.6, 4, (30, 50, 88), 0.42, mass=9.1, back="fr4", bevel=0.08, ppm=24)
    p.side = {"rgb": [150, 142, 96], "rough": 0.6, "metal": 0.0}
    b = Board(p, (30, 50, 88), (52, 80, 124), (22, 38, 68), (228, 229, 222), 5)
    f = p.face
    for x, y in SCREWS[1:]:
        b.mount(x, y, 1.7, 1.1)
    ring = disk(*SPEAKER, 10.3) - disk(*SPEAKER, 9.3)
    b.take(ring, 0.1)
    b.socket(*LINK_FOOT, 8.6, 12, flip=1)
    b.label(LINK_FOOT[0] - 6.6, LINK_FOOT[1], "LINK", 0.75, turn=90)
    b.quad(13.2, 21.6, 5.6, 1.1, 8, ["SONG2", "24 BIT", "2239"], lead=0.7)
    b.rows(48.4, 30.2, 4.0, 5.0, 1.4, 4, ["AP8", "021"], turn=90, lead=0.8)
    b.rows(55.4, 22.6, 4.0, 5.0, 1.4, 4, ["MP6", "2L"], lead=0.8)
    b.capacitor(47.2, 21.4, 2.5, 4.2, ["100", "16V"], 90)
    b.capacitor(47.0, 11.2, 2.0, 3.6, ["47", "16V"], 0)
    b.capacitor(18.6, 9.8, 2.0, 3.6, ["47", "16V"], 180)
    # film capacitors: dull red blocks
    for x, y in ((11.4, 14.8), (55.6, 30.6)):
        for s in (1, -1):
            b.solder(x + s * 2.5, y, 0.8, 1.4)
        b.box(x, y, 4.6, 2.6, 2.3, (142, 50, 40), 0.42, r=0.3, bevel=0.15)
        b.later.append(lambda x=x, y=y: f.text(x, y, "µ47 63", 0.75, (232, 214, 200), "sans", a=0.9))
        b.take(crect(x, y, 5.8, 2.8, 0.1), 0.3)
        b.pins += [(x - 3.2, y), (x + 3.2, y)]
    # trimmer: blue block with a brass screw
    tx, ty = 54.6, 15.6
    b.box(tx, ty, 4.4, 4.4, 2.4, (56, 98, 150), 0.45, r=0.3, bevel=0.12)
    p.turned(tx, ty, [[1.4, 4.0], [1.4, 4.4], [1.25, 4.5], [0.0, 4.5]])
    b.later.append(lambda: (f.disk(tx, ty, 1.42, (206, 176, 100), rough=0.3, metal=1.0), f.rect(tx, ty, 2.2, 0.42, (40, 34, 20), turn=35, metal=0.2, bump=-0.2)))
    b.take(crect(tx, ty, 4.6, 4.6, 0.1), 0.4)
    b.label(tx, ty - 3.1, "TRIM", 0.7)
    # speaker wires: two big pads with domes of solder
    for k, (x, y) in enumerate(((22.4, 32.2 - 0.8), (41.8, 31.4))):
        f.rect(x, y, 2.4, 3.0, GOLD, r=0.4, rough=0.34, metal=1.0)
        b.take(crect(x, y, 2.6, 3.2, 0.1), 0.3)
        p.turned(x, y, [[0.95, 1.6], [0.85, 1.95], [0.55, 2.25], [0.2, 2.38], [0.0, 2.4]])
        b.later.append(lambda x=x, y=y: f.disk(x, y, 0.98, (204, 203, 198), rough=0.22, metal=1.0))
        b.label(x, y - 2.3, "SPK " + "+−"[k], 0.75)
    b.passives(32, 6.9, 6, 1.5, "CRCRCR", 90, "x")
    b.label(24.6, 6.2, "MIC BIAS", 0.7)
    b.testpoints([(41.0, 7.2), (43.4, 16.0 - 0.6), (20.8, 15.2), (20.0, 26.2), (7.4, 26.0)])
    b.label(32, 31.4 + 0.3, "D3-AUDIO", 0.95, face="bold")
    b.take(crect(32, 31.6, 9, 2.4, 0.1), 0)
    b.later.append(lambda: f.paint(bird(7.2, 33.9, 3.2), b.silk, a=0.9))
    b.take(crect(7.2, 34, 3.6, 3, 0.1), 0)
    b.later.append(lambda: f.line([*disk(*SPEAKER, 9.9).exterior.coords], 0.16, b.silk, a=0.85))
    b.fill(24)
    print("audio board traces:", b.route(90))
    b.finish()
    f.paint(p.outline - p.outline.buffer(-0.32), (24, 42, 76), a=0.8)
    f.weather(silt=0.6, tide=0.5, dust=0.25, scratches=6, crevice=0.55, scratch_rgb=(130, 150, 180))
    near = np.clip(f.crevices(1.2) * 1.5, 0, 1)
    f.bloom((128, 182, 158), "verdigris", 0.9, 2.0, 1.15, near)
    f.bloom((216, 216, 204), "salt", 0.7, 1.4, 1.4, near)
    return p


def ribbon(id, name, spine, width, ends, layer, mass, n):
    """A flat ribbon along a spine; ends are (x, y, length along x, width along y) stiffened tongues."""
    line = LineString(rounded(spine, 3.2))
    neck = line.buffer(width / 2, cap_style="flat", join_style="round", quad_segs=24)
    tongues = [crect(x, y, w, h, 0.7) for x, y, w, h in ends]
    shape = soften(neck | unary_union(tongues), 0.55)
    p = Part(id, name, "ribbon", shape, 0.3, layer, (198, 128, 44), 0.36, mass=mass, back="polyimide", bevel=0.03, ppm=26)
    f = p.face
    p.body()
    f.paint(neck, (204, 134, 46))
    for k in range(n):
        o = (k - (n - 1) / 2) * (width - 1.0) / (n - 1)
        q = line.offset_curve(o, quad_segs=16, join_style="round")
        f.paint(q.buffer(min(0.2, (width - 1.0) / (n - 1) * 0.3)), (166, 92, 30), rough=0.32, bump=0.02)
    for x, y, w, h in ends:
        t = crect(x, y, w, h, 0.7)
        f.paint(t, (188, 116, 36), rough=0.34)
        f.line([*t.buffer(-0.25).exterior.coords], 0.12, (160, 92, 28), a=0.7)
    return p


def rounded(spine, r):
    """Replace the spine's corners by arcs of about radius r (quadratic curves are near enough for a ribbon)."""
    p = np.array(spine, float)
    out = [p[0]]
    for a, b, c in zip(p, p[1:], p[2:]):
        u, v = (a - b) / np.linalg.norm(a - b), (c - b) / np.linalg.norm(c - b)
        t = np.linspace(0, 1, 16)[:, None]
        s, e = b + u * r, b + v * r
        out += list((1 - t)**2 * s + 2 * t * (1 - t) * b + t * t * e)
    return np.array([*out, p[-1]])


def tongue(f, x, y, w, h, n, side, words):
    """Gold fingers at the outer end (side: +1 up, -1 down), a stiffener behind them, a legend."""
    s = crect(x, y - side * h * 0.14, w - 0.7, h * 0.62, 0.4)
    f.paint(s, (58, 92, 132), rough=0.45, bump=0.04)
    f.text(x, y - side * h * 0.14, words, 0.85, (214, 220, 224), "sans", spacing=0.08, a=0.9)
    for k in range(n):
        o = (k - (n - 1) / 2) * (w - 1.6) / (n - 1)
        f.rect(x + o, y + side * (h / 2 - h * 0.155), (w - 1.6) / (n - 1) * 0.58, h * 0.27, GOLD, rough=0.3, metal=1.0, bump=0.02)


def display_ribbon():
    (x0, y0), (x1, y1) = DISPLAY_TAIL, DISPLAY_SOCKET
    spine = [(x0, y0), (x0, 79.2), (x1, 79.2), (x1, y1)]
    ends = [(x0, y0, 11.6, 5.2), (x1, y1 - 0.2, 11.6, 5.2)]
    p = ribbon("display-ribbon", "Display ribbon", spine, 7.6, ends, 3, 0.5, 12)
    f = p.face
    tongue(f, *ends[0], 18, 1, "D3-FX1")
    tongue(f, *ends[1], 18, -1, "MAIN")
    f.paint(crect(29.5, 79.2, 5.2, 5.4, 0.4), (216, 208, 184), rough=0.7)      # a maker's paper label
    f.text(29.5, 80.3, "FX1", 1.1, (50, 50, 46), "bold")
    f.text(29.5, 78.4, "22-41", 0.8, (50, 50, 46), "mono")
    f.weather(silt=0.4, tide=0.8, dust=0.2, scratches=5, crevice=0, scratch_rgb=(230, 180, 110))
    return p


def link_ribbon():
    (x0, y0), (x1, y1) = LINK_SOCKET, LINK_FOOT
    spine = [(x0, y0 + 2), (x0, 36.0), (x1, 36.0), (x1, y1 - 2)]
    ends = [(x0, y0 + 1.2, 8.0, 5.6), (x1, y1 - 1.2, 8.0, 5.6)]
    p = ribbon("link-ribbon", "Link ribbon", spine, 5.2, ends, 3, 0.4, 8)
    f = p.face
    tongue(f, *ends[0], 12, 1, "MAIN")
    tongue(f, *ends[1], 12, -1, "AUDIO")
    f.text(30.8, 36.0, "TARNWICK  D3-FX2", 0.9, (238, 214, 168), "sans", spacing=0.1, a=0.9)
    f.weather(silt=0.6, tide=0.8, dust=0.2, scratches=5, crevice=0, scratch_rgb=(230, 180, 110))
    return p
