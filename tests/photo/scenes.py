"""Invented pictures of tanks from above, with the true cover known.

Light is added up in linear units, as a sensor does: bottom, water, plants below the
surface, floaters with their shadows, lamp, glare; then exposure, noise, blur, gamma, JPEG.
"""

from __future__ import annotations

import io
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw, ImageFilter

Floats = NDArray[np.float64]
SIZE = (720, 540)

# Reflected linear RGB: of leaves, and of what lies below.
FLOATERS = {
    "green": (0.11, 0.21, 0.045), "light": (0.26, 0.40, 0.08), "pale": (0.30, 0.42, 0.14),
    "deep": (0.07, 0.14, 0.045), "yellowing": (0.36, 0.40, 0.06), "red": (0.26, 0.075, 0.045),
    "rusty": (0.24, 0.10, 0.05),
}  # fmt: skip
BOTTOMS = {
    "soil": (0.075, 0.050, 0.033), "black": (0.022, 0.022, 0.021), "sand": (0.55, 0.44, 0.28),
    "white": (0.62, 0.58, 0.49), "gravel": (0.24, 0.19, 0.14),
}  # fmt: skip
BELOW = {"stems": (0.10, 0.19, 0.05), "moss": (0.05, 0.10, 0.03), "crypts": (0.09, 0.13, 0.05)}


@dataclass(frozen=True)
class Scene:
    """What a picture shows; `cover` is what the floaters should reach."""

    cover: float = 0.4
    floater: str = "green"
    bottom: str = "soil"
    tannin: float = 0.1
    depth: float = 0.6
    below: str = ""
    below_share: float = 0.0
    warm: float = 0.0
    gradient: float = 0.3
    shadow: float = 0.0
    glare: int = 0
    noise: float = 1.0
    frond: float = 9.0
    exposure: float = 1.0
    quality: int = 85
    seed: int = 1
    size: tuple[int, int] = field(default=SIZE)


def picture(scene: Scene) -> tuple[bytes, float]:
    """JPEG bytes of a scene and its true cover in percent."""
    light, true = _light(scene)
    out = io.BytesIO()
    Image.fromarray(light).save(out, "JPEG", quality=scene.quality)
    return out.getvalue(), 100.0 * float(true.mean())


def array(scene: Scene) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    """The pixels of a scene and the true mask."""
    return _light(scene)


def _light(scene: Scene) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    rng = np.random.default_rng(scene.seed)
    w, h = scene.size
    water = _water(scene, rng)
    fronds, true, edge = _layer(scene, rng)
    thrown = _blurred(np.roll(true.astype(float), (4, 3), (0, 1)), 2.5)
    mirrored = 0.025 * (1 + 0.3 * _grain(h, w, 40, rng))
    water = water * (1 - 0.45 * thrown)[..., None] + mirrored[..., None]
    cut = edge[..., None]
    seen = np.where(true[..., None], fronds, water) * (1 - cut) + cut * 0.5 * (fronds + water)
    y, x = np.mgrid[0:h, 0:w] / max(h, w)
    angle = rng.uniform(0, 2 * np.pi)
    away = np.hypot(x - 0.5 - 0.3 * np.cos(angle), y - 0.4 - 0.3 * np.sin(angle))
    lamp = 1 - scene.gradient * np.clip(away, 0, 1)
    if scene.shadow:
        side = x if rng.random() < 0.5 else y
        lamp = lamp * np.where(side < rng.uniform(0.12, 0.3), 1 - scene.shadow, 1.0)
    seen = seen * _blurred(lamp, 3)[..., None]
    seen = seen * np.exp(np.array([scene.warm, 0.0, -1.2 * scene.warm]))
    seen = seen * (0.18 / max(float(np.mean(seen[..., 1])), 0.02)) ** 0.75 * scene.exposure
    for _ in range(scene.glare):
        seen = seen + _shine(h, w, rng)[..., None]
    return _developed(seen, scene, rng), true


def _water(scene: Scene, rng: np.random.Generator) -> Floats:
    w, h = scene.size
    coarse = {"sand": 0.06, "white": 0.06, "gravel": 0.3, "soil": 0.25, "black": 0.2}[scene.bottom]
    grain = 1 + coarse * _grain(h, w, 2.0, rng) + 0.15 * _grain(h, w, 60, rng)
    bottom = np.clip(grain, 0.2, 3)[..., None] * np.array(BOTTOMS[scene.bottom])
    depth = np.full((h, w), 2 * scene.depth)
    if scene.below:
        plants, there, near = _leaves(scene, rng)
        bottom = np.where(there[..., None], plants, bottom)
        depth = np.where(there, depth * near, depth)
    absorbed = np.array([0.35, 0.12, 0.10]) + scene.tannin * np.array([0.35, 0.95, 3.2])
    seen = bottom * np.exp(-absorbed * depth[..., None])
    ripple = 1 + 0.1 * _grain(h, w, 90, rng)
    return np.stack([_blurred(seen[..., c] * ripple, 1.2) for c in range(3)], -1)


def _leaves(scene: Scene, rng: np.random.Generator) -> tuple[Floats, NDArray[np.bool_], Floats]:
    w, h = scene.size
    index, n = _drawn(scene.size, scene.below_share, 26.0, rng, clump=0.7)
    near = rng.uniform(0.35, 0.95, n + 1)[index]
    tone = rng.lognormal(0, 0.25, n + 1)[index]
    dim = 0.55 * (1.3 - near) * tone * (1 + 0.15 * _grain(h, w, 6, rng))
    return dim[..., None] * np.array(BELOW[scene.below]), index > 0, near


def _layer(scene: Scene, rng: np.random.Generator) -> tuple[Floats, NDArray[np.bool_], Floats]:
    w, h = scene.size
    index, n = _drawn(scene.size, scene.cover, scene.frond, rng, clump=0.5)
    true = index > 0
    tone = rng.lognormal(0, 0.16, n + 1)[index]
    hue = rng.normal(0, 0.08, (n + 1, 3))[index]
    y, x = np.mgrid[0:h, 0:w]
    turn = rng.uniform(0, 6.28, n + 1)[index]
    shade = 1 + 0.12 * np.sin((x * np.cos(turn) + y * np.sin(turn)) / scene.frond * 1.5)
    differs = (index != np.roll(index, 1, 0)) | (index != np.roll(index, 1, 1))
    rim = 1 - 0.35 * differs
    veins = 1 + 0.10 * _grain(h, w, 1.5, rng)
    tint = np.array(FLOATERS[scene.floater]) * np.exp(hue)
    fronds = tint * np.clip(tone * shade * rim * veins, 0.1, 3)[..., None]
    edge = 0.5 * (differs & ~(true & np.roll(true, 1, 0) & np.roll(true, 1, 1)))
    return fronds, true, edge.astype(float)


def _drawn(
    size: tuple[int, int], cover: float, width: float, rng: np.random.Generator, clump: float
) -> tuple[NDArray[np.int32], int]:
    """Overlapping leaves drawn until the share is reached: which leaf is on top where."""
    w, h = size
    sheet = Image.new("I", size, 0)
    pen = ImageDraw.Draw(sheet)
    field = _grain(h, w, 80, rng)
    n = 0
    if cover >= 0.999:
        sheet.paste(1, (0, 0, w, h))
        n = 1
    while cover > 0:
        for _ in range(max(4, int(0.03 * w * h / width**2))):
            x, y = rng.uniform(0, w), rng.uniform(0, h)
            if clump and field[int(y), int(x)] < rng.normal(1.5 * clump - 3 * cover * clump, 0.5):
                continue
            n += 1
            a, b = width * rng.uniform(0.35, 0.65, 2)
            pen.ellipse((x - a, y - b, x + a, y + b), fill=n)
        share = float((np.asarray(sheet) > 0).mean())
        if (share >= cover and cover < 0.999) or n > 5 * w * h / width**2:
            break
    return np.asarray(sheet, dtype=np.int32), n


def _shine(h: int, w: int, rng: np.random.Generator) -> Floats:
    y, x = np.mgrid[0:h, 0:w]
    cx, cy, a, b = rng.uniform(0, w), rng.uniform(0, h), *rng.uniform(0.03, 0.12, 2) * w
    return np.clip(2.2 * np.exp(-(((x - cx) / a) ** 2) - ((y - cy) / b) ** 2) - 0.05, 0, None)


def _developed(seen: Floats, scene: Scene, rng: np.random.Generator) -> NDArray[np.uint8]:
    spread = scene.noise * np.sqrt(0.0006 * np.clip(seen, 0, None) + 0.003**2)
    seen = np.clip(seen + rng.normal(0, 1, seen.shape) * spread, 0, 1)
    coded = np.where(seen <= 0.0031308, 12.92 * seen, 1.055 * seen ** (1 / 2.4) - 0.055)
    sheet = Image.fromarray((255 * np.clip(coded, 0, 1) + 0.5).astype(np.uint8))
    return np.asarray(sheet.filter(ImageFilter.GaussianBlur(0.7)))


def _blurred(values: Floats, radius: float) -> Floats:
    top = max(float(values.max()), 1e-9)
    sheet = Image.fromarray((values / top).astype(np.float32))
    reach = max(1, round(radius))
    for _ in range(2):
        padded = np.pad(np.asarray(sheet, dtype=float), reach, mode="edge")
        total = np.cumsum(np.cumsum(padded, 0), 1)
        total = np.pad(total, ((1, 0), (1, 0)))
        k = 2 * reach + 1
        sheet = (total[k:, k:] - total[:-k, k:] - total[k:, :-k] + total[:-k, :-k]) / k**2
    return np.asarray(sheet) * top


def _grain(h: int, w: int, scale: float, rng: np.random.Generator) -> Floats:
    """Smooth noise of about unit spread and the given grain in pixels."""
    rows, columns = max(3, int(h / scale) + 2), max(3, int(w / scale) + 2)
    coarse = rng.normal(0, 1, (rows, columns)).astype(np.float32)
    fine = np.asarray(Image.fromarray(coarse).resize((w, h), Image.Resampling.BICUBIC), dtype=float)
    return fine / max(float(fine.std()), 1e-9)


def random_scene(seed: int, hard: bool = False) -> Scene:
    """A scene drawn at random; a hard one has plants below, red floaters or strong glare."""
    rng = np.random.default_rng(100_000 + seed)
    cover = float(rng.choice([0.0, 1.0, rng.uniform(0.03, 0.97)], p=[0.15, 0.15, 0.7]))
    easy = ["green", "light", "pale", "deep"]
    floater = str(rng.choice([*easy, "yellowing", "red", "rusty"] if hard else easy))
    below = str(rng.choice(list(BELOW))) if hard and rng.random() < 0.6 else ""
    return Scene(
        cover=cover, floater=floater, bottom=str(rng.choice(list(BOTTOMS))),
        tannin=float(rng.choice([0.02, 0.1, 0.3, 0.7])), depth=float(rng.uniform(0.3, 1.0)),
        below=below, below_share=float(rng.uniform(0.1, 0.8)) if below else 0.0,
        warm=float(np.clip(rng.normal(0, 0.13), -0.3, 0.3)), gradient=float(rng.uniform(0, 0.7)),
        shadow=float(rng.choice([0.0, 0.5])), glare=int(rng.integers(0, 6 if hard else 3)),
        noise=float(rng.uniform(0.5, 2.5)), frond=float(np.exp(rng.uniform(np.log(5), np.log(45)))),
        exposure=float(rng.lognormal(0, 0.25)), quality=int(rng.integers(55, 96)), seed=seed,
    )  # fmt: skip
