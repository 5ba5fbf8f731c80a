"""Photos of labels that had a rough day, for trial of the reader: nobody tuned it to these.

Each recipe takes a Shot, a drawn label and what becomes of it on the way to the camera's frame,
and spoils it within the range its docstring says. Lengths are in pixels of the frame unless they
are in mm or in shares of the label; a module is 2 to 6 pixels. All are common practice, no
source. No printer and no phone were at hand: every picture is drawn here.
"""

import io
import math
from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cache

import numpy as np
from PIL import Image, ImageDraw, ImageFilter
from scipy import fft

from inventory.codes import draw_code
from inventory.labels import STOCKS, LabelText, draw_label

FRAME = (1280, 720)
PHOTO = (1500, 2000)  # what is left of 12 megapixels when the program looks at it
HOST = "farm.local:8000"
DPI = 300
STOCK_KEYS = ("a4-2x7", "a4-3x8", "letter-2x5", "roll-57x32", "roll-62x100")
LABELS_A_STOCK = 4
NAMES = ("Kale", "Kirsebærtomater", "Carrot, bunched", "Acelga")
_MESH = 24  # pixels across of a piece that is warped as one
_OFF = -10_000  # far outside the label

Warp = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]


@dataclass
class Shot:
    """A label, or a page of them, before it is photographed, and how that will be done.

    torn: 255 where there is no paper. fill: the share of the frame that the paper takes, across
    or down. tilt: degrees, at most. warps: from where a point is seen, -1 to 1 across and down
    the paper, to where it is on the flat paper. after: what happens to the light on its way.
    """

    code: str
    paper: Image.Image
    chance: np.random.Generator
    torn: Image.Image | None = None
    fill: float = 0.8
    tilt: float = 15.0
    frame: tuple[int, int] = FRAME
    warps: list[Warp] = field(default_factory=list)
    after: list[Callable[[np.ndarray], np.ndarray]] = field(default_factory=list)


@cache
def labels(stock_key: str) -> list[tuple[str, Image.Image]]:
    """Return some labels of a stock and their codes, as they come out of the printer."""
    stock = STOCKS[stock_key]
    return [
        (text.code, draw_label(text, stock.label_w, stock.label_h, DPI).convert("L"))
        for text in texts(LABELS_A_STOCK, seed=len(stock_key))
    ]


def texts(count: int, seed: int) -> list[LabelText]:
    """Return labels of crates with codes of their own."""
    chance = np.random.default_rng(seed)
    lines = (("cut Wed 25 Nov", 0.75), ("12 bunches", 0.55), ("keeps until Sat 5 Dec", 0.4))
    made = []
    for number in range(count):
        code = draw_code(lambda letters: letters[chance.integers(len(letters))])
        name = NAMES[number % len(NAMES)]
        made.append(LabelText(name, code, lines, f"HTTP://FARM.LOCAL:8000/L/{code}"))
    return made


def shot(seed: int) -> Shot:
    chance = np.random.default_rng(seed)
    made = labels(STOCK_KEYS[seed % len(STOCK_KEYS)])
    code, paper = made[chance.integers(len(made))]
    return Shot(code, paper, chance, fill=chance.uniform(0.4, 0.85))


def photograph(shot: Shot) -> bytes:
    """Return the frame a camera sends: turned, tilted, lit from a side, on a crate of slats."""
    seen = _posed(shot)
    light = 1 + shot.chance.uniform(0.05, 0.25) * _across(shot)
    grey = np.asarray(seen, np.float32) * light * shot.chance.uniform(0.7, 0.95)
    for spoil in shot.after:
        grey = spoil(grey)
    grey = grey + shot.chance.normal(0, 2, grey.shape)
    out = io.BytesIO()
    Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8)).save(out, "JPEG", quality=60)
    return out.getvalue()


def _grid(frame: tuple[int, int]) -> tuple[np.ndarray, np.ndarray]:
    """Return down and across of every pixel, -1 to 1."""
    down, across = np.linspace(-1, 1, frame[1]), np.linspace(-1, 1, frame[0])
    return down[:, None].astype(np.float32), across[None, :].astype(np.float32)


def _across(shot: Shot) -> np.ndarray:
    """Return -1 to 1 over the frame, rising in some direction."""
    turn = shot.chance.uniform(0, 2 * math.pi)
    y, x = _grid(shot.frame)
    return (x * math.cos(turn) + y * math.sin(turn)) / 1.42


def _crate(shot: Shot) -> Image.Image:
    """Wooden or plastic slats behind the label."""
    rows = shot.chance.uniform(60, 150, (9, 1)) + shot.chance.normal(0, 10, (9, 160))
    grain = Image.fromarray(np.clip(rows, 0, 255).astype(np.uint8))
    return grain.resize(shot.frame, Image.Resampling.BILINEAR)


def _posed(shot: Shot) -> Image.Image:
    """Put the label, warped, before the camera."""
    scale = shot.fill * min(shot.frame[0] / shot.paper.width, shot.frame[1] / shot.paper.height)
    size = (round(shot.paper.width * scale), round(shot.paper.height * scale))
    paper = shot.paper.resize(size, Image.Resampling.BOX)
    there = Image.new("L", size, 255)
    if shot.torn is not None:
        there.paste(0, mask=shot.torn.resize(size))
    mesh = _mesh(shot, size)
    image = paper.transform(shot.frame, Image.Transform.MESH, mesh, Image.Resampling.BICUBIC)
    mask = there.transform(shot.frame, Image.Transform.MESH, mesh, Image.Resampling.BILINEAR)
    return Image.composite(image, _crate(shot), mask)


def _mesh(shot: Shot, size: tuple[int, int]) -> list:
    """Return where each piece of the frame is taken from on the label of a size."""
    xs, ys = (np.linspace(0, side, side // _MESH + 1).round() for side in shot.frame)
    x, y = np.meshgrid(xs - shot.frame[0] / 2, ys - shot.frame[1] / 2)
    u, v = _flat(shot, x, y)
    u, v = u / (size[0] / 2), v / (size[1] / 2)
    for warp in shot.warps:
        u, v = warp(u, v)
    u, v = (u + 1) * size[0] / 2, (v + 1) * size[1] / 2
    pieces = []
    for row in range(len(ys) - 1):
        for column in range(len(xs) - 1):
            box = (xs[column], ys[row], xs[column + 1], ys[row + 1])
            corners = [(row, column), (row + 1, column), (row + 1, column + 1), (row, column + 1)]
            quad = [float(value) for at in corners for value in (u[at], v[at])]
            pieces.append((tuple(int(side) for side in box), quad))
    return pieces


def _flat(shot: Shot, x: np.ndarray, y: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Undo how the label is held: turned a little either way up, and tilted away from the eye."""
    turn = math.radians(shot.chance.normal(0, 12) + shot.chance.choice([0, 180]))
    x, y = x * math.cos(turn) + y * math.sin(turn), y * math.cos(turn) - x * math.sin(turn)
    tilt = math.radians(shot.chance.uniform(0.6, 1) * shot.tilt)
    away = shot.chance.uniform(0, 2 * math.pi)
    along = x * math.cos(away) + y * math.sin(away)
    aside = y * math.cos(away) - x * math.sin(away)
    eye = 1.1 * max(shot.frame)  # how far away a phone's lens is, in pixels of its frame
    deep = along / (math.cos(tilt) - along * math.sin(tilt) / eye)
    aside = aside * (1 + deep * math.sin(tilt) / eye)
    u = deep * math.cos(away) - aside * math.sin(away)
    return u, deep * math.sin(away) + aside * math.cos(away)


def _smeared(grey: np.ndarray, spot: np.ndarray) -> np.ndarray:
    """Return a picture in which every point is spread over a spot."""
    middle = (spot.shape[0] // 2, spot.shape[1] // 2)
    padded = np.zeros(FRAME[::-1], np.float32)
    padded[: spot.shape[0], : spot.shape[1]] = spot / spot.sum()
    padded = np.roll(padded, (-middle[0], -middle[1]), (0, 1))
    return fft.irfft2(fft.rfft2(grey) * fft.rfft2(padded), grey.shape).astype(np.float32)


def _disc(radius: float) -> np.ndarray:
    reach = math.ceil(radius)
    y, x = np.mgrid[-reach : reach + 1, -reach : reach + 1]
    return np.clip(radius + 0.5 - np.hypot(x, y), 0, 1).astype(np.float32)


def _streak(length: float, bend: float, turn: float) -> np.ndarray:
    """Return the way a hand went while the shutter was open."""
    at = np.linspace(-1, 1, 200)
    along, aside = at * length / 2, bend * (at * at - 0.5)
    x = along * math.cos(turn) - aside * math.sin(turn)
    y = along * math.sin(turn) + aside * math.cos(turn)
    reach = math.ceil(length / 2 + abs(bend)) + 1
    edges = np.arange(-reach - 0.5, reach + 1)
    return np.histogram2d(y, x, (edges, edges))[0].astype(np.float32)


def blur(shot: Shot) -> None:
    """Out of focus: each point a disc of 2 to 7 px radius."""
    spot = _disc(shot.chance.uniform(2, 7))
    shot.after.append(lambda grey: _smeared(grey, spot))


def shake(shot: Shot) -> None:
    """A hand that moved 4 to 20 px in any direction, up to 2 px off the straight."""
    chance = shot.chance
    spot = _streak(chance.uniform(4, 20), chance.uniform(-2, 2), chance.uniform(0, math.pi))
    shot.after.append(lambda grey: _smeared(grey, spot))


def bucket(shot: Shot) -> None:
    """Stuck round a bucket: over 90 to 150 degrees of it, across or along its words."""
    half = math.radians(shot.chance.uniform(90, 150)) / 2
    lying = bool(shot.chance.integers(2))

    def round_it(u, v):
        along = u if lying else v
        sine = along * math.sin(half)
        bent = np.where(np.abs(sine) < 1, np.arcsin(np.clip(sine, -1, 1)) / half, _OFF)
        return (bent, v) if lying else (u, bent)

    shot.warps.append(round_it)


def crumple(shot: Shot) -> None:
    """4 to 9 sharp folds across the label, each shifting what lies beyond it by up to 3 % of its
    length, and 15 to 45 % darker or lighter on one side."""
    chance = shot.chance
    folds = [
        (chance.uniform(0, math.pi), chance.uniform(-0.8, 0.8), chance.uniform(-0.06, 0.06, 2))
        for _ in range(chance.integers(4, 10))
    ]

    def fold(u, v):
        moved_u, moved_v = u.copy(), v.copy()
        for turn, at, (across, down) in folds:
            beyond = np.clip((u * math.cos(turn) + v * math.sin(turn) - at) / 0.5, 0, 1)
            moved_u, moved_v = moved_u + across * beyond, moved_v + down * beyond
        return moved_u, moved_v

    def shade(grey):
        y, x = _grid(FRAME)
        for turn, at, _ in folds:
            beyond = (x * math.cos(turn) + y * math.sin(turn) - at) * 8
            side = np.where(beyond > 0, np.exp(-beyond), 0)
            grey = grey * (1 - chance.uniform(0.15, 0.45) * side)
        return grey

    shot.warps.append(fold)
    shot.after.append(shade)


def drops(shot: Shot) -> None:
    """25 to 70 drops of 6 to 32 px radius, each a lens with a dark rim and a bright spot."""
    count = shot.chance.integers(25, 71)
    shot.after.append(lambda grey: _wet(grey, shot.chance, count, 32))


def _wet(grey, chance, count: int, largest: float) -> np.ndarray:
    image = Image.fromarray(np.clip(grey, 0, 255).astype(np.uint8))
    for _ in range(count):
        radius = int(chance.uniform(6, largest))
        x, y = chance.uniform(150, FRAME[0] - 150), chance.uniform(40, FRAME[1] - 40)
        wide = radius * chance.uniform(1.2, 2.2)
        inside = image.crop(tuple(int(s) for s in (x - wide, y - wide, x + wide, y + wide)))
        lens = inside.resize((2 * radius, 2 * radius), Image.Resampling.BILINEAR).rotate(180)
        mask = Image.new("L", lens.size, 0)
        ImageDraw.Draw(mask).ellipse((0, 0, 2 * radius - 1, 2 * radius - 1), fill=255)
        pen = ImageDraw.Draw(lens)
        pen.arc((0, 0, 2 * radius - 1, 2 * radius - 1), 0, 180, fill=70, width=max(1, radius // 8))
        shine = radius * 0.25
        pen.ellipse((radius * 0.6, radius * 0.5, radius * 0.6 + shine, radius * 0.5 + shine), 250)
        image.paste(lens, (int(x) - radius, int(y) - radius), mask)
    return np.asarray(image, np.float32)


def missing_lines(shot: Shot) -> None:
    """A print head with 6 to 24 dead places of 1 to 4 dots, 300 to the inch, along the label."""
    paper = np.array(shot.paper)
    for _ in range(shot.chance.integers(6, 25)):
        at, dead = shot.chance.integers(paper.shape[1]), shot.chance.integers(1, 5)
        paper[:, at : at + dead] = 255
    shot.paper = Image.fromarray(paper)


def torn(shot: Shot) -> None:
    """28 to 36 % of the paper gone, along a ragged line at any angle."""
    chance, (width, height) = shot.chance, shot.paper.size
    turn = chance.uniform(0, 2 * math.pi)
    y, x = np.mgrid[-1 : 1 : height * 1j, -1 : 1 : width * 1j]
    along = x * math.cos(turn) + y * math.sin(turn)
    aside = y * math.cos(turn) - x * math.sin(turn)
    teeth = np.interp(aside, np.linspace(-1.5, 1.5, 40), chance.uniform(-0.08, 0.08, 40))
    along = along + teeth
    gone = along > np.quantile(along, 1 - chance.uniform(0.28, 0.36))
    shot.torn = Image.fromarray((gone * 255).astype(np.uint8))


def low_light(shot: Shot) -> None:
    """So dark that 6 to 30 photons make white, shown at 25 to 60 % of full brightness."""
    chance = shot.chance
    photons, shown = chance.uniform(6, 30), chance.uniform(0.25, 0.6)
    shot.after.append(
        lambda grey: chance.poisson(np.clip(grey, 0, None) / 255 * photons) / photons * 255 * shown
    )


def hard_shadows(shot: Shot) -> None:
    """Sun through 3 to 7 slats: bars with 12 to 35 % of the light, their edges 1 to 5 px wide."""
    chance = shot.chance
    shadow = Image.new("L", FRAME, 255)
    left = chance.uniform(12, 35) * 2.55
    slope = chance.uniform(-400, 400)
    for _ in range(chance.integers(3, 8)):
        x, wide = chance.uniform(100, FRAME[0] - 100), chance.uniform(25, 120)
        bar = [(x, 0), (x + wide, 0), (x + wide + slope, FRAME[1]), (x + slope, FRAME[1])]
        ImageDraw.Draw(shadow).polygon(bar, fill=int(left))
    shadow = shadow.filter(ImageFilter.GaussianBlur(chance.uniform(0.4, 2)))
    lit = np.asarray(shadow, np.float32) / 255
    shot.after.append(lambda grey: grey * lit)


def wet_box(shot: Shot) -> None:
    """All at once: tilted up to 40 degrees, 15 to 40 drops up to 24 px, out of focus by 1 to
    3 px, shaken 3 to 9 px, 15 to 50 % of the light and its grain."""
    chance = shot.chance
    shot.tilt = 40.0
    count = chance.integers(15, 41)
    spot = _disc(chance.uniform(1, 3))
    way = _streak(chance.uniform(3, 9), 0, chance.uniform(0, math.pi))
    light = chance.uniform(0.15, 0.5)
    shot.after += [
        lambda grey: _wet(grey, chance, count, 24),
        lambda grey: _smeared(_smeared(grey, spot), way) * light,
        lambda grey: grey + chance.normal(0, 4, grey.shape),
    ]


RECIPES = (
    blur, shake, bucket, crumple, drops, missing_lines, torn, low_light, hard_shadows, wet_box
)  # fmt: skip


def taken(recipe: Callable[[Shot], None], seed: int) -> tuple[str, bytes]:
    """Return the code of a label and the frame that shows it after a recipe."""
    made = shot(seed)
    recipe(made)
    return made.code, photograph(made)


def page_taken(page: Image.Image, seed: int) -> bytes:
    """Return a photo of a printed page: tilted up to 20 degrees, lit from a side, by a window
    whose bars shade it by 15 to 40 %, and a little out of focus."""
    chance = np.random.default_rng(seed)
    made = Shot("", page, chance, fill=0.85, tilt=20.0, frame=PHOTO)

    def shade(grey):
        y, x = _grid(PHOTO)
        bars = np.sin((x + chance.uniform(-1, 1) * y) * chance.uniform(8, 16)) > 0.3
        return grey * (1 - chance.uniform(0.15, 0.4) * bars)

    made.after += [shade, lambda grey: (grey + np.roll(grey, 1, 0) + np.roll(grey, 1, 1)) / 3]
    return photograph(made)
