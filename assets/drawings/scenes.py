"""One picture for each step where hands do something, and its words for who cannot see it."""

import unit
from sheet import ACCENT, GLASS, LIGHT, LINE, MIDDLE, PAPER, SOFT, WHITE, Sheet
from unit import BED, EIGHT, LONG, OPENINGS, SHORT, H, W, X, Y

SCENES, SHOWS = {}, {}


def scene(name: str, shows: str):
    def kept(draw):
        SCENES[name], SHOWS[name] = draw, shows
        return draw

    return kept


def _plate(s: Sheet, x, y) -> None:
    s.box(x, y, 200, 66, WHITE, 6)
    for n in range(9):
        s.box(x + 18 + n * 19, y + 18, 6 + n % 3 * 3, 30, LINE, 0, None)


def _whole(s: Sheet, **given) -> None:
    unit.body(s, **given)
    unit.slots(s)
    unit.window(s)


@scene(
    "identify",
    "The unit from above; rings mark the rating plate, the window and the case seam. Nothing presses on the window.",
)
def identify(s: Sheet, plate=(330, 522)) -> None:
    _whole(s)
    _plate(s, *plate)
    s.ring(plate[0] + 100, plate[1] + 33, 124)
    s.ring(BED[0] + BED[2] - 20, BED[1] + 20, 66)
    s.ring(X + 40, Y + 140, 60)
    s.finger(500, 330, 90, 190, 56)
    s.never(500, 290, 84)


@scene(
    "identify-cellular",
    "The unit from above; rings mark the rating plate, the antenna boards named on it and the case seam. Nothing presses on the window.",
)
def identify_cellular(s: Sheet) -> None:
    identify(s)
    for x in (300, 620):
        s.box(x, Y + 8, 90, 34, SOFT, 4, ACCENT)


@scene(
    "identify-stand",
    "The back of the unit with the closed bail stand; rings mark the rating plate, both slots and the battery tray.",
)
def identify_stand(s: Sheet) -> None:
    s.box(X, Y - 40, W, H + 60, LIGHT, 46, width=5)
    unit.stand(s, 290, 230, 420, 220)
    s.box(380, 260, 240, 130, MIDDLE, 10)
    _plate(s, 400, 505)
    for x, y, r in ((290, 200, 66), (710, 200, 66), (500, 325, 100), (500, 538, 122)):
        s.ring(x, y, r)


@scene(
    "check-ground",
    "A strap on the bare wrist, its cord to the tester; a second cord from the mat to the tester.",
)
def check_ground(s: Sheet) -> None:
    s.shape([(80, 560), (520, 560), (590, 650), (30, 650)], MIDDLE, width=5)
    s.path([(120, 190), (330, 300)], LINE, 108)
    s.path([(120, 190), (330, 300)], WHITE, 98)
    s.hand(480, 378, 28, 0.8)
    s.path([(206, 150), (158, 272)], ACCENT, 42)
    s.disc(180, 214, 17, WHITE)
    s.path([(180, 230), (200, 420), (430, 470), (700, 430)], ACCENT, 6)
    s.path([(480, 600), (620, 610), (760, 470)], LINE, 6)
    s.disc(480, 600, 16)
    s.box(680, 250, 230, 230, WHITE, 18, width=5)
    s.box(710, 280, 170, 80, LIGHT, 8)
    s.path([(735, 320), (755, 338), (800, 300)], ACCENT, 9)
    for x in (730, 795, 860):
        s.disc(x, 425, 16, MIDDLE)


@scene(
    "discharge",
    "The unit runs its test picture; its charge falls into the marked range, then it is switched off.",
)
def discharge(s: Sheet) -> None:
    unit.body(s)
    unit.slots(s)
    unit.screen(s)
    s.box(330, 240, 300, 140, WHITE, 14, width=6)
    s.box(630, 285, 26, 50, LINE, 4, None)
    s.box(340, 250, 90, 120, SOFT, 8, ACCENT, 5)
    s.arrow((590, 310), (460, 310), width=13)
    s.disc(790, 520, 26, WHITE)
    s.path([(790, 502), (790, 522)], LINE, 6)


def _cell_out(s: Sheet) -> None:
    unit.tray(s)
    s.box(520, 412, 70, 76, SOFT, 6, ACCENT)
    s.arrow((600, 450), (690, 450))
    unit.cell(s, 210, 180, caps=True)
    s.arrow((325, 470), (325, 325), width=12)
    s.box(690, 210, 240, 150, WHITE, 12, width=5)
    s.shape([(690, 210), (930, 210), (950, 110), (712, 110)], LIGHT, width=5)
    s.arrow((460, 200), (560, 130), (660, 180), width=11)


@scene(
    "take-cell-out",
    "The open battery tray: the connector is pulled at its tab, the cell lifted out, its contacts capped, then laid into the lidded box.",
)
def take_cell_out(s: Sheet) -> None:
    _cell_out(s)


@scene(
    "isolate-cell",
    "The open battery tray: the connector is pulled, the cell lifted out, capped and laid into the lidded box; two probes touch the board's supply pads.",
)
def isolate_cell(s: Sheet) -> None:
    _cell_out(s)
    s.box(690, 540, 240, 90, MIDDLE, 8)
    for x, foot in ((760, 740), (860, 880)):
        s.box(x - 16, 560, 32, 24, SOFT, 0, ACCENT)
        s.path([(x, 572), (foot, 440)], LINE, 18)
        s.path([(x, 572), (foot, 440)], ACCENT, 10)


@scene(
    "remove-bail-stand",
    "The stand folded out to its stop: both tabs are pressed together, then it is drawn straight out of the slots.",
)
def remove_bail_stand(s: Sheet) -> None:
    s.box(150, 60, 700, 160, LIGHT, 20, width=5)
    for x in (290, 710):
        s.box(x - 46, 150, 92, 72, LINE, 8)
    unit.stand(s, 310, 320, 380, 240)
    s.finger(252, 300, 0, 150)
    s.finger(748, 300, 180, 150)
    s.arrow((380, 300), (445, 300))
    s.arrow((620, 300), (555, 300))
    s.arrow((500, 380), (500, 520), width=14)


@scene(
    "remove-stand",
    "The stand held closed: both tabs are pressed together, then it is drawn straight out; a broken stand is laid together, all pieces of both tabs.",
)
def remove_stand(s: Sheet) -> None:
    remove_bail_stand(s)
    for points in (
        [(90, 600), (150, 590), (140, 640), (80, 645)],
        [(180, 590), (230, 600), (220, 645), (170, 638)],
    ):
        s.shape(points, SOFT, ACCENT, 4)


def _slot_photo(s: Sheet, aslant=False) -> None:
    unit.slot_section(s)
    s.card(660, 380, 190, 36)
    s.camera(500, 130, 540, 55)
    if aslant:
        for aside in (-80, 280):
            s.dashes(300 - 22, 190, 450 + aside * 0.1, 540)
        s.box(200, 100, 140, 74, PAPER, 12, ACCENT, 4)
        s.arrow((410, 137), (350, 137))


@scene(
    "photograph-slots",
    "A slot cut open: the camera straight above looks down to the floor of the lining, the lamp shines along it, the scale card lies on the rim.",
)
def photograph_slots(s: Sheet) -> None:
    _slot_photo(s)
    s.lamp(250, 250, 40, 240)


@scene(
    "look-into-slots",
    "A slot cut open: the lamp shines down to the floor; no tool goes in before the finding.",
)
def look_into_slots(s: Sheet) -> None:
    photograph_slots(s)
    s.path([(730, 180), (640, 300)], LINE, 16)
    s.path([(730, 180), (640, 300)], WHITE, 9)
    s.never(690, 240, 74)


@scene(
    "compare-slots",
    "A lining cut open: the camera takes it from straight above and from one side; no tool goes in.",
)
def compare_slots(s: Sheet) -> None:
    _slot_photo(s, aslant=True)
    s.path([(730, 180), (640, 300)], LINE, 16)
    s.path([(730, 180), (640, 300)], WHITE, 9)
    s.never(690, 240, 74)


@scene(
    "inspect-slots",
    "A slot cut open after the tape is drawn off: the lamp shines from both ends, the camera looks from above; no tool, tape or air goes in.",
)
def inspect_slots(s: Sheet) -> None:
    unit.slot_section(s)
    s.camera(500, 110, 540, 55)
    s.lamp(260, 250, 40, 230)
    s.lamp(740, 250, 140, 230)
    s.shape([(130, 420), (330, 420), (270, 380), (90, 360)], SOFT, ACCENT)
    s.arrow((260, 360), (150, 320))
    s.path([(880, 300), (800, 400)], LINE, 16)
    s.path([(880, 300), (800, 400)], WHITE, 9)
    s.never(842, 350, 66)


def _crosswise(s: Sheet, order, size=34) -> None:
    for n, (x, y) in enumerate(order, 1):
        s.disc(x, y, 27, SOFT, ACCENT, 5)
        s.text(x, y - 2, str(n), size)


EIGHT_CROSS = [EIGHT[n] for n in (0, 4, 2, 6, 1, 5, 3, 7)]


def _driver(s: Sheet, x, y, turn) -> None:
    s.path([(x, y), (x, y - 90)], LINE, 14)
    s.box(x - 26, y - 210, 52, 124, SOFT, 20, ACCENT)
    s.arc(x, y - 40, 58, *turn)


@scene(
    "remove-fasteners",
    "The eight rim fasteners, numbered in the order in which they come out, corner to corner; they go into the tray.",
)
def remove_fasteners(s: Sheet) -> None:
    _whole(s)
    for a, b in ((0, 1), (2, 3), (4, 5), (6, 7)):
        s.dashes(*EIGHT_CROSS[a], *EIGHT_CROSS[b], MIDDLE, 5)
    _crosswise(s, EIGHT_CROSS)
    s.box(360, 240, 280, 120, WHITE, 14, width=5)
    for n in range(8):
        s.screw(410 + n % 4 * 60, 275 + n // 4 * 50)


TEN = [*SHORT, LONG[2], LONG[1], LONG[3], LONG[0], LONG[4], LONG[5]]


@scene(
    "remove-fasteners-cellular",
    "Four short fasteners at the antenna end come out first, then six long ones, corner to corner; short and long lie apart.",
)
def remove_fasteners_cellular(s: Sheet) -> None:
    _whole(s, screws=[])
    _crosswise(s, TEN)
    for x, count, long in ((270, 4, 34), (540, 6, 74)):
        s.box(x, 215, 210, 150, WHITE, 14, width=5)
        for n in range(count):
            at = x + 105 + (n - (count - 1) / 2) * 32
            s.disc(at, 245, 11, MIDDLE, width=3)
            s.path([(at, 256), (at, 256 + long)], LINE, 8)


@scene(
    "fit-fasteners",
    "The eight rim fasteners, numbered corner to corner, are set by hand and tightened in two rounds.",
)
def fit_fasteners(s: Sheet) -> None:
    _whole(s)
    _crosswise(s, EIGHT_CROSS)
    _driver(s, 500, 410, (200, 520))
    s.text(620, 330, "2x", 64, ACCENT)


@scene(
    "fit-fasteners-cellular",
    "Four short fasteners at the antenna end, six long ones elsewhere, set by hand and tightened corner to corner in two rounds.",
)
def fit_fasteners_cellular(s: Sheet) -> None:
    _whole(s, screws=[])
    _crosswise(s, TEN)
    for x, long in ((270, 34), (350, 74)):
        s.disc(x, 260, 18, MIDDLE)
        s.path([(x, 278), (x, 278 + long)], LINE, 12)
    s.arrow((270, 240), (270, 165), width=7)
    s.arrow((350, 380), (350, 470), width=7)
    _driver(s, 560, 410, (200, 520))
    s.text(680, 330, "2x", 64, ACCENT)


@scene("cover-slots", "Both slots are closed with tape that reaches 5 mm over on every side.")
def cover_slots(s: Sheet) -> None:
    s.box(100, 90, 800, 330, LIGHT, 30, width=5)
    s.box(370, 205, 260, 80, LINE, 40)
    s.box(300, 135, 400, 220, None, 8, ACCENT, 8)
    for x0, x1 in ((370, 304), (630, 696)):
        s.arrow((x0, 245), (x1, 245), width=6)
    for y0, y1 in ((205, 140), (285, 350)):
        s.arrow((500, y0), (500, y1), width=6)
    s.text(790, 245, "5 mm", 44, ACCENT)
    s.box(210, 480, 580, 170, LIGHT, 24, width=4)
    for x in (340, 660):
        s.box(x - 50, 580, 100, 26, LINE, 13)
        s.box(x - 72, 568, 144, 50, SOFT, 4, ACCENT)


@scene(
    "warm-window",
    "The heating mat at 75 °C on the covered window; afterwards the glass is measured in the middle of each long side.",
)
def warm_window(s: Sheet) -> None:
    unit.body(s, filled=None)
    unit.slots(s, taped=True)
    unit.window(s)
    x, y, w, h = BED
    s.box(x + 50, y + 70, w - 100, h - 140, SOFT, 20, ACCENT, 6)
    for n in range(7):
        at = x + 95 + n * 65
        s.path([(at, y + 100), (at + 24, y + 140), (at, y + 180), (at + 24, y + 230)], ACCENT, 7)
    s.text(500, y + h / 2, "75 °C", 76)
    for mid, up in ((y + 34, -1), (y + h - 34, 1)):
        s.disc(500, mid, 20, WHITE, ACCENT, 7)
        s.path([(500, mid), (600, mid + up * 60)], LINE, 10)
        s.disc(610, mid + up * 66, 20, LIGHT)


def _cut(s: Sheet, antenna=False) -> None:
    unit.body(s, filled=None)
    unit.slots(s, taped=True)
    unit.window(s)
    x, y, w, h = BED
    s.arrow((x + 10, y + 3), (x + w - 3, y + 3), (x + w - 3, y + h - 3), (x + w - 160, y + h - 3), width=12)
    for n in range(6):
        at = x + 120 + n * 72
        s.shape([(at - 13, y - 46), (at + 13, y - 46), (at + 4, y + 10), (at - 4, y + 10)], WHITE)
    s.disc(x + 8, y + 4, 22, SOFT, ACCENT, 6)
    s.box(232, 290, 440, 210, PAPER, 14, width=5)
    for left, deep in ((320, "4 mm"), (530, "2 mm")) if antenna else ((420, "4 mm"),):
        s.box(left - 70, 420, 140, 60, LIGHT)
        s.box(left - 60, 386, 60, 26, GLASS)
        down = 452 if deep == "4 mm" else 430
        s.shape([(left, 320), (left + 16, 320), (left + 10, down), (left + 4, down)], SOFT, ACCENT)
        s.box(left - 16, 362, 50, 14, ACCENT, 2, None)
        s.text(left + 78, 326, deep, 32, ACCENT)


@scene(
    "cut-bond",
    "From the top left corner the cutter goes along the seam, no deeper than its 4 mm stop; wedges follow every 40 mm.",
)
def cut_bond(s: Sheet) -> None:
    _cut(s)


@scene(
    "cut-bond-cellular",
    "From the top left corner the cutter goes along the seam, no deeper than 4 mm, at the antenna end no deeper than 2 mm; wedges follow every 40 mm.",
)
def cut_bond_cellular(s: Sheet) -> None:
    _cut(s, antenna=True)


@scene(
    "lift-window",
    "Two hands lift the window evenly at the wedges; it is laid flat in the glass bin, film side up.",
)
def lift_window(s: Sheet) -> None:
    unit.section(s, 480, glass=150)
    s.hand(200, 296, 20, 0.62)
    s.hand(800, 296, 160, 0.62)
    for x in (330, 670):
        s.arrow((x, 440), (x, 345), width=13)
    s.path([(205, 262), (795, 262)], ACCENT, 8)
    s.shape([(650, 60), (960, 60), (930, 150), (680, 150)], LIGHT, width=5)
    s.box(690, 96, 230, 20, GLASS)
    s.arrow((420, 240), (420, 105), (630, 105), width=13)


@scene(
    "strip-adhesive",
    "The wedge rolls the old adhesive inwards, away from the taped slots; both old mesh strips come off.",
)
def strip_adhesive(s: Sheet) -> None:
    unit.body(s, filled=None)
    unit.bed(s, "old", glue=True)
    unit.slots(s, taped=True)
    x, y, w, h = BED
    for at in (0.3, 0.7):
        s.arrow((x + w * at, y + h - 14), (x + w * at, y + h - 120), width=12)
        s.arrow((x + w * at, y + 14), (x + w * at, y + 120), width=12)
    s.shape([(430, 480), (570, 480), (545, 420), (455, 420)], WHITE)
    s.box(440, 398, 120, 26, SOFT, 13, ACCENT)
    for (at, mid), far in zip(OPENINGS, (300, 700), strict=True):
        s.arrow((at, mid), (far, mid - 60), width=9)


@scene(
    "clean-bed",
    "The bed is wiped once round with a damp wipe, then with its other side; the display and the taped slots stay free of solvent.",
)
def clean_bed(s: Sheet) -> None:
    unit.body(s, filled=None)
    unit.bed(s)
    unit.slots(s, taped=True)
    x, y, w, h = BED
    s.arrow(
        (x + 130, y + 18),
        (x + w - 18, y + 18),
        (x + w - 18, y + h - 17),
        (x + 18, y + h - 17),
        (x + 18, y + 70),
        width=12,
    )
    s.box(x + 20, y - 22, 120, 84, SOFT, 12, ACCENT)
    s.hand(x + 90, y + 30, 60, 0.6)
    s.bottle_drop(500, 320, 36)
    s.never(500, 312, 82)


def _opening_large(s: Sheet, covered=0.0) -> None:
    s.box(90, 200, 820, 400, LIGHT, 30, width=5)
    s.box(230, 345, 540, 110, LINE, 55)
    if covered:
        s.box(190, 305, 620 * covered, 190, SOFT, 50, ACCENT, 6)
        for n in range(int(26 * covered)):
            s.path([(215 + n * 22, 470), (240 + n * 22, 330)], ACCENT, 2)


@scene(
    "place-mesh",
    "The strip's liner is peeled from one end, that end is set to its mark and the strip laid down towards the other end.",
)
def place_mesh(s: Sheet) -> None:
    _opening_large(s, 0.52)
    for y in (300, 500):
        s.path([(190, y), (190, y + (-46 if y < 400 else 46))], LINE, 8)
    s.shape([(500, 305), (760, 170), (820, 330), (512, 495)], SOFT, ACCENT, 6)
    s.shape([(640, 260), (700, 226), (900, 120), (940, 170), (760, 330)], WHITE)
    s.arrow((820, 190), (930, 90), width=10)
    s.finger(330, 400, 60, 220, 62)
    s.arrow((420, 550), (700, 550), width=13)


@scene(
    "check-mesh",
    "The camera looks straight down on the opening with its mesh strip; the scale card lies beside it.",
)
def check_mesh(s: Sheet) -> None:
    s.box(150, 320, 700, 320, LIGHT, 30, width=5)
    unit.strip(s, 420, 480, "new", 210)
    s.card(520, 560, 230, 56)
    s.camera(470, 90, 380, 210)


def _press_mesh(s: Sheet, left: bool) -> None:
    unit.body(s, filled=None)
    unit.bed(s, "new")
    unit.slots(s, taped=False)
    x, y = OPENINGS[0 if left else 1]
    s.box(x - 44, y - 120, 88, 240, WHITE, 12, width=6)
    s.ring(x, y, 156)
    s.hand(x, y + 40, 90, 0.7)
    side = 1 if left else -1
    s.box(420, 230, 160, 200, PAPER, 12, width=5)
    s.arrow((500, 250), (500, 350), width=13)
    s.box(440, 360, 120, 40, SOFT, 4, ACCENT)
    s.arrow((x + side * 70, y + 150), (x + side * 210, y + 150), colour=LINE)
    s.never(x + side * 140, y + 150, 46)


@scene(
    "press-mesh-left",
    "The stamp stands flat on the left mesh strip and is pressed straight down, never slid.",
)
def press_mesh_left(s: Sheet) -> None:
    _press_mesh(s, True)


@scene(
    "press-mesh-right",
    "The stamp stands flat on the right mesh strip and is pressed straight down, never slid.",
)
def press_mesh_right(s: Sheet) -> None:
    _press_mesh(s, False)


@scene(
    "dry-fit",
    "The new window drops into the bed by its own weight, without adhesive, even with the frame; the suction cup lifts it out.",
)
def dry_fit(s: Sheet) -> None:
    unit.section(s, 480, glass=-18, glue=False)
    s.arrow((300, 290), (300, 430), width=13)
    s.dashes(60, 448, 940, 448, ACCENT, 4)
    s.shape([(430, 446), (570, 446), (530, 400), (470, 400)], MIDDLE, width=5)
    s.box(482, 320, 36, 82, WHITE, 8)
    s.box(430, 292, 140, 36, WHITE, 16, width=5)
    s.arrow((500, 270), (500, 150), width=13)


@scene(
    "lay-adhesive-frame",
    "A new adhesive frame is set to the two locating holes and pressed down all round; then the upper liner is drawn off in one go.",
)
def lay_adhesive_frame(s: Sheet) -> None:
    unit.body(s, filled=None)
    unit.bed(s, "new")
    unit.slots(s)
    x, y, w, h = BED
    s.box(x + 8, y + 8, w - 16, h - 16, None, 20, ACCENT, 24)
    s.box(x + 12, y + 12, w - 24, h - 24, None, 18, SOFT, 14)
    for at, low in ((x + 20, y + 20), (x + w - 20, y + h - 20)):
        s.disc(at, low, 19, LINE, ACCENT, 7)
        s.ring(at, low, 46)
    s.shape(
        [
            (x + w - 10, y - 10),
            (x + w - 210, y - 6),
            (x + w - 120, y - 90),
            (x + w + 90, y - 90),
            (x + w + 10, y + 150),
        ],
        WHITE,
    )
    s.arrow((x + w - 60, y - 20), (x + w - 250, y + 140), width=13)
    s.finger(x + 180, y + h - 22, 60, 160, 50)
    s.arrow((x + 215, y + h - 22), (x + 330, y + h - 22), width=9)


@scene(
    "set-window",
    "The long lower edge of the window stands against its stop; the window is lowered onto the adhesive and not shifted.",
)
def set_window(s: Sheet) -> None:
    unit.section(s, 480, glass=4, tilt=210)
    s.ring(200, 446, 56)
    s.arc(220, 440, 500, -32, -17, width=13)
    s.arrow((420, 600), (580, 600), colour=LINE, width=10)
    s.never(500, 600, 46)


@scene(
    "press-window",
    "In the closed pressing frame the foam pad lies over the whole window; the 4 kg weight stands free on the guide pins and loads it evenly.",
)
def press_window(s: Sheet) -> None:
    unit.section(s, 520, glass=0)
    s.box(198, 412, 604, 54, SOFT, 14, ACCENT)
    for n in range(14):
        s.disc(225 + n * 42, 440, 6, PAPER, ACCENT, 2)
    for x in (130, 840):
        s.box(x, 130, 30, 330, MIDDLE)
    s.box(110, 230, 780, 178, WHITE, 14, width=6)
    s.text(500, 318, "4 kg", 92)
    for n in range(5):
        s.arrow((260 + n * 120, 150), (260 + n * 120, 222), width=9)


@scene(
    "measure-gap",
    "The camera looks straight down on the lower seam; the scale card lies beside the seam, level with the glass.",
)
def measure_gap(s: Sheet) -> None:
    s.shape([(60, 460), (430, 460), (430, 640), (60, 640)], GLASS, width=5)
    s.shape([(452, 460), (940, 460), (940, 640), (452, 640)], LIGHT, width=5)
    s.box(560, 440, 300, 18, WHITE)
    s.dashes(60, 456, 940, 456, ACCENT, 4)
    s.camera(470, 110, 450, 190)
    s.arrow((441, 690), (441, 650), width=8)
    s.ring(441, 500, 56)


@scene(
    "feeler-gauge",
    "Leaves of the gauge, from thin to thick, are tried without force in the seam on all four sides.",
)
def feeler_gauge(s: Sheet) -> None:
    _whole(s, filled=None)
    x, y, w, h = BED
    middle = (500, y + h / 2)
    for at in ((500, y + 2), (x + w - 2, middle[1]), (500, y + h - 2), (x + 2, middle[1])):
        s.ring(*at, 36)
    s.box(430, 270, 150, 52, MIDDLE, 20)
    for n, thick in enumerate((3, 6, 10, 15)):
        s.path([(450, 296), (320 - n * 6, 200 + n * 62)], LINE, thick + 4)
        s.path([(450, 296), (320 - n * 6, 200 + n * 62)], WHITE, thick)
    s.path([(452, 296), (x + 6, middle[1])], ACCENT, 9)
    s.arrow((290, 450), (290, 180), colour=MIDDLE, width=7)


def _stand_in(s: Sheet, count="") -> None:
    s.box(150, 60, 700, 170, LIGHT, 20, width=5)
    for x in (310, 690):
        s.box(x - 46, 160, 92, 72, LINE, 8)
    unit.stand(s, 310, 350, 380, 200)
    s.finger(252, 330, 0, 150)
    s.finger(748, 330, 180, 150)
    s.arrow((380, 330), (445, 330))
    s.arrow((620, 330), (555, 330))
    for x in (310, 690):
        s.arrow((x, 282), (x, 238), width=10)
    s.arc(500, 560, 86, 200, 340, width=10)
    s.arc(500, 600, 86, 20, 160, width=10)
    if count:
        s.text(500, 580, count, 60)


@scene(
    "refit-bail-stand",
    "Both tabs pressed together enter straight into the slots and snap; the stand is folded in and out three times.",
)
def refit_bail_stand(s: Sheet) -> None:
    _stand_in(s, "3x")


@scene(
    "work-stand",
    "Both tabs pressed together enter straight into the linings and snap; the stand is folded out and in ten times, then drawn out.",
)
def work_stand(s: Sheet) -> None:
    _stand_in(s, "10x")


@scene(
    "refit-cell",
    "The caps come off, the cell goes into its tray, the connector is pushed home and the tray closed.",
)
def refit_cell(s: Sheet) -> None:
    unit.tray(s)
    unit.cell(s, 220, 120)
    for x in (270, 402):
        s.box(x - 2, 44, 36, 26, SOFT, 4, ACCENT)
    s.arrow((336, 92), (336, 20), width=8)
    s.arrow((335, 260), (335, 430), width=13)
    s.box(640, 412, 70, 76, SOFT, 6, ACCENT)
    s.arrow((630, 450), (560, 450))
    s.shape([(720, 330), (930, 330), (930, 570), (720, 570)], LIGHT, width=5)
    s.arrow((820, 610), (700, 660), (500, 600), width=11)


@scene(
    "refit-stand-and-cell",
    "The stand snaps into the linings; the cell without its caps goes into the tray and its connector is pushed home.",
)
def refit_stand_and_cell(s: Sheet) -> None:
    refit_cell(s)
    unit.stand(s, 740, 130, 150, 110)
    for x in (740, 890):
        s.box(x - 36, 14, 72, 34, LINE, 6)
        s.arrow((x, 62), (x, 28), width=6)


def _playing(s: Sheet) -> None:
    unit.body(s)
    unit.screen(s, points=True)
    for at, side in ((X - 16, -1), (X + W + 16, 1)):
        for n in range(3):
            r = 30 + n * 26
            s.path(
                [(at + side * r * 0.55, 330 - r), (at + side * r, 330), (at + side * r * 0.55, 330 + r)],
                ACCENT,
                7,
            )


@scene(
    "function-check",
    "The unit with its test picture: nine points to touch, the test tone on both sides, the unit on its stand.",
)
def function_check(s: Sheet) -> None:
    _playing(s)
    s.shape([(330, 590), (670, 590), (720, 660), (280, 660)], None)


@scene(
    "function-check-cellular",
    "The unit in the open screened test box with its test picture: nine points to touch, the test tone on both sides.",
)
def function_check_cellular(s: Sheet) -> None:
    s.box(40, 70, 920, 590, MIDDLE, 10, width=6)
    s.shape([(40, 70), (960, 70), (900, 14), (100, 14)], LIGHT, width=6)
    _playing(s)


@scene(
    "release",
    "The release tag hangs on the unit, the unit lies flat; glass and wipes go into their own bins.",
)
def release(s: Sheet) -> None:
    s.box(90, 430, 520, 80, LIGHT, 20, width=5)
    s.box(130, 412, 440, 22, GLASS, 6)
    s.path([(40, 516), (660, 516)], LINE, 8)
    s.path([(130, 460), (90, 340), (160, 240)], LINE, 5)
    s.shape([(130, 130), (250, 130), (250, 260), (130, 260)], SOFT, ACCENT, 6)
    s.disc(160, 240, 10)
    for n in range(3):
        s.path([(150, 160 + n * 24), (225, 160 + n * 24)], LINE, 5)
    for x, inside in ((690, "glass"), (830, "wipe")):
        s.shape([(x, 320), (x + 120, 320), (x + 104, 510), (x + 16, 510)], WHITE, width=5)
        s.arrow((x + 60, 210), (x + 60, 305), width=10)
        if inside == "glass":
            s.shape([(x + 26, 150), (x + 90, 140), (x + 70, 196)], GLASS)
        else:
            s.box(x + 26, 140, 68, 54, SOFT, 12, ACCENT)


def _antenna(s: Sheet, boards, spacers=False, between=False) -> None:
    unit.body(s, screws=[], filled=None)
    unit.bed(s)
    for x, live in boards:
        s.box(x, Y + 20, 210, 130, SOFT if live else LIGHT, 8, ACCENT if live else LINE, 5)
        for post in (x + 34, x + 176):
            s.disc(post, Y + 110, 13, LINE, None)
            if spacers and live:
                s.disc(post, Y + 110, 27, None, ACCENT, 11)
                s.box(post - 8, Y + 76, 16, 16, PAPER, 0, None)
        s.path([(x + 105, Y + 60), (x + 105, Y + 230), (500, Y + 300)], LINE, 9)
        s.disc(x + 105, Y + 60, 22, WHITE, width=6)
        if live:
            s.arrow(
                (x + 105, Y + (-46 if spacers else 44)), (x + 105, Y + (30 if spacers else -60)), width=11
            )
    if between:
        s.disc(500, Y + 90, 27, None, ACCENT, 11)


LEFT, RIGHT = X + 60, X + W - 270


@scene("free-left-antenna", "The plug is lifted straight off the left antenna board with the lifter.")
def free_left_antenna(s: Sheet) -> None:
    _antenna(s, ((LEFT, True), (RIGHT, False)))


@scene("free-right-antenna", "The plug is lifted straight off the right antenna board with the lifter.")
def free_right_antenna(s: Sheet) -> None:
    _antenna(s, ((LEFT, False), (RIGHT, True)))


@scene(
    "fit-spacers-single",
    "Two new spacers on the posts of the left antenna board, notches towards the rim; the plug is pressed on until it clicks.",
)
def fit_spacers_single(s: Sheet) -> None:
    _antenna(s, ((LEFT, True),), spacers=True)


@scene(
    "fit-spacers-twin",
    "Two new spacers on the posts of each antenna board, the fifth between the boards, notches towards the rim; both plugs are pressed on until they click.",
)
def fit_spacers_twin(s: Sheet) -> None:
    _antenna(s, ((LEFT, True), (RIGHT, True)), spacers=True, between=True)


def _link(s: Sheet, left: bool) -> None:
    s.box(90, 220, 460, 380, MIDDLE, 10, width=6)
    s.box(90, 170, 460, 60, LIGHT, 10, width=6)
    s.box(180, 330, 280, 200, LIGHT, 20)
    s.box(210, 356, 220, 130, GLASS, 10)
    for x, here in ((230, left), (410, not left)):
        s.path([(x, 330), (x, 268)], ACCENT if here else LINE, 10)
        if here:
            for r in (26, 50):
                s.path([(x - r, 290), (x, 262 - r / 2), (x + r, 290)], ACCENT, 6)
    s.path([(550, 400), (650, 400)], LINE, 8)
    s.box(650, 250, 260, 310, WHITE, 18, width=6)
    s.box(684, 284, 192, 110, LIGHT, 8)
    for n in range(4):
        s.box(704 + n * 42, 370 - n * 22, 28, 14 + n * 22, ACCENT if n < 3 else WHITE, 2)
    s.disc(780, 480, 46, LIGHT)
    s.arrow((780, 480), (750 if left else 810, 446), width=9)


@scene("link-left", "The test box is closed; the link tester is read for the left antenna.")
def link_left(s: Sheet) -> None:
    _link(s, True)


@scene(
    "link-right", "The test box stays closed; the link tester is switched to the right antenna and read."
)
def link_right(s: Sheet) -> None:
    _link(s, False)


@scene(
    "fit-linings",
    "The old lining is lifted out at its collar with the pick, no deeper than its stop; the new one is set in by hand, collar flush with the rim, and pressed with the stamp.",
)
def fit_linings(s: Sheet) -> None:
    s.box(60, 420, 880, 200, LIGHT, 8, width=5)
    for x in (290, 710):
        s.box(x - 62, 418, 124, 150, PAPER, 0)
    s.shape(
        [(216, 330), (364, 330), (364, 348), (346, 348), (346, 480), (234, 480), (234, 348), (216, 348)],
        MIDDLE,
    )
    s.path([(130, 230), (212, 336), (240, 330)], LINE, 12)
    s.box(150, 268, 46, 20, ACCENT, 4, None)
    s.arrow((290, 310), (290, 170), width=13)
    s.shape(
        [(636, 404), (784, 404), (784, 420), (766, 420), (766, 556), (654, 556), (654, 420), (636, 420)],
        SOFT,
        ACCENT,
        6,
    )
    s.box(650, 290, 120, 108, WHITE, 10, width=5)
    s.arrow((710, 150), (710, 278), width=13)


@scene(
    "stand-check",
    "The unit is switched on and stands on the level plate; the lean angle is read on the plate's scale.",
)
def stand_check(s: Sheet) -> None:
    s.box(80, 600, 840, 30, MIDDLE)
    s.shape([(260, 590), (520, 130), (570, 158), (310, 598)], LIGHT, width=6)
    s.path([(440, 370), (640, 598)], LINE, 26)
    s.path([(440, 370), (640, 598)], WHITE, 16)
    s.path([(530, 180), (330, 520)], ACCENT, 8)
    s.arc(280, 598, 260, 0, -58, width=9)
    for n in range(7):
        s.path([(620 + n * 42, 600), (620 + n * 42, 574 if n % 3 else 556)], LINE, 5)
