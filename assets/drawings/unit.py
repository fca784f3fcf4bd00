"""The invented Ossmere unit: from above, in section, its slots, its cell, its bail stand."""

from sheet import ACCENT, DARK, GLASS, LIGHT, LINE, MIDDLE, PAPER, SOFT, WHITE, Sheet

X, Y, W, H = 150, 110, 700, 480
BED = (X + 62, Y + 58, W - 124, H - 140)
SLOTS = ((X + 150, Y + H - 42), (X + W - 150, Y + H - 42))
OPENINGS = ((BED[0] + 42, BED[1] + 171), (BED[0] + BED[2] - 42, BED[1] + 171))
EIGHT = [
    (X + 32, Y + 30), (X + W / 2, Y + 28), (X + W - 32, Y + 30), (X + W - 30, Y + 230),
    (X + W - 32, Y + H - 32), (X + W / 2, Y + H - 32), (X + 32, Y + H - 32), (X + 30, Y + 230),
]  # fmt: skip
SHORT = [(X + 60 + n * 193, Y + 28) for n in range(4)]
LONG = [
    (X + 30, Y + 230), (X + W - 30, Y + 230), (X + 32, Y + H - 32), (X + W - 32, Y + H - 32),
    (X + 275, Y + H - 32), (X + W - 275, Y + H - 32),
]  # fmt: skip


def body(s: Sheet, screws=EIGHT, filled=WHITE) -> None:
    s.box(X, Y, W, H, LIGHT, 46, width=5)
    for x, y in screws:
        s.screw(x, y, filled) if filled else s.disc(x, y, 9, LINE, None)


def slots(s: Sheet, taped=False) -> None:
    for x, y in SLOTS:
        s.box(x - 52, y - 13, 104, 26, LINE, 13)
        if taped:
            s.box(x - 76, y - 24, 152, 48, SOFT, 4, ACCENT, 4)


def window(s: Sheet, fill=GLASS) -> None:
    s.box(*BED, fill, 22, width=5)
    x, y = BED[:2]
    s.path([(x + 40, y + 120), (x + 120, y + 40)], WHITE, 7)
    s.path([(x + 70, y + 150), (x + 160, y + 60)], WHITE, 7)


def bed(s: Sheet, mesh="", glue=False) -> None:
    """The open frame bed with the display; ``mesh``: strips that are "old" or "new" on it."""
    s.box(*BED, MIDDLE if glue else WHITE, 22, width=5)
    x, y, w, h = BED
    s.box(x + 84, y + 34, w - 168, h - 68, DARK, 8)
    for at, mid in OPENINGS:
        opening(s, at, mid, mesh)


def opening(s: Sheet, x, y, mesh="", high=180) -> None:
    s.box(x - 14, y - high / 2, 28, high, LINE, 14)
    if mesh:
        strip(s, x, y, mesh, high)


def strip(s: Sheet, x, y, mesh="new", high=180) -> None:
    colour = ACCENT if mesh == "new" else MIDDLE
    s.box(x - 24, y - high / 2 - 12, 48, high + 24, SOFT if mesh == "new" else LIGHT, 20, colour, 4)
    for n in range(int(high / 15)):
        s.path([(x - 16, y - high / 2 + 8 + n * 15), (x + 16, y - high / 2 + n * 15)], colour, 2)


def screen(s: Sheet, points=False) -> None:
    """The test picture; ``points``: the nine to touch."""
    x, y, w, h = BED
    s.box(*BED, "#33413D", 22, width=5)
    for n, shade in enumerate(("#FFFFFF", "#C9D2CD", "#98A59F", "#6C7A75", "#4A5853")):
        s.box(x + 40 + n * (w - 80) / 5, y + 40, (w - 80) / 5, h - 80, shade, 0, None)
    if points:
        for across in (0.16, 0.5, 0.84):
            for down in (0.2, 0.5, 0.8):
                s.disc(x + w * across, y + h * down, 17, SOFT, ACCENT, 6)


def section(s: Sheet, y=440, glass=0.0, tilt=0.0, glue=True) -> None:
    """The frame cut across; ``glass``: how far the window is above its place, None without it;
    ``tilt``: how far its right end is higher."""
    s.shape(
        [(90, y - 60), (190, y - 60), (190, y), (810, y), (810, y - 60), (910, y - 60), (910, y + 150), (90, y + 150)],
        LIGHT, width=5,
    )  # fmt: skip
    s.box(300, y + 18, 400, 70, DARK, 6)
    if glue:
        for x in (196, 706):
            s.box(x, y - 18, 98, 18, SOFT, 3, ACCENT, 3)
    if glass is not None:
        low = y - 20 - glass
        s.shape([(198, low), (802, low - tilt), (802, low - 34 - tilt), (198, low - 34)], GLASS, width=5)


def slot_section(s: Sheet, y=420, wide=150) -> None:
    """A lined slot cut open, in the middle."""
    s.box(120, y, 760, 210, LIGHT, 8, width=5)
    s.shape([(500 - wide / 2 - 26, y - 12), (500 + wide / 2 + 26, y - 12), (500 + wide / 2 + 26, y + 2),
             (500 + wide / 2 + 12, y + 2), (500 + wide / 2 + 12, y + 150), (500 - wide / 2 - 12, y + 150),
             (500 - wide / 2 - 12, y + 2), (500 - wide / 2 - 26, y + 2)], MIDDLE)  # fmt: skip
    s.box(500 - wide / 2, y - 14, wide, 150, PAPER, 0, None)
    s.path(
        [
            (500 - wide / 2, y - 12),
            (500 - wide / 2, y + 136),
            (500 + wide / 2, y + 136),
            (500 + wide / 2, y - 12),
        ]
    )


def stand(s: Sheet, x, y, w=420, h=250, pinch=0) -> None:
    """The bail stand, its two tabs up at ``y``; ``pinch``: how far they are pressed together."""
    outer = [(x, y), (x, y + h), (x + w, y + h), (x + w, y)]
    s.path(outer, LINE, 34)
    s.path(outer, WHITE, 25)
    for at, side in ((x, 1), (x + w, -1)):
        s.box(at - 28 + pinch * side, y - 62, 56, 70, SOFT, 8, ACCENT, 5)


def cell(s: Sheet, x, y, caps=False, w=230, h=120) -> None:
    s.box(x, y, w, h, WHITE, 10, width=5)
    s.path([(x + 30, y + h / 2), (x + 58, y + h / 2)], LINE, 6)
    s.path([(x + w - 58, y + h / 2), (x + w - 30, y + h / 2)], LINE, 6)
    s.path([(x + w - 44, y + h / 2 - 14), (x + w - 44, y + h / 2 + 14)], LINE, 6)
    for at in (x + 50, x + w - 82):
        s.box(at, y - 20, 32, 22, SOFT if caps else MIDDLE, 4, ACCENT if caps else LINE, 4)


def tray(s: Sheet, x=150, y=330, w=420, h=240) -> None:
    """The battery tray, open, with its connector's socket at the right."""
    s.box(x, y, w, h, LIGHT, 18, width=5)
    s.box(x + 40, y + 44, 270, 150, MIDDLE, 8)
    s.box(x + w - 80, y + 84, 50, 70, WHITE, 6)
    for n in range(3):
        s.path([(x + w - 66, y + 100 + n * 18), (x + w - 44, y + 100 + n * 18)], LINE, 4)
