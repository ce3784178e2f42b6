"""Reads a small, whole QR code (level Q, versions 2 to 4, bytes) back from its drawing."""

from __future__ import annotations

import re

Grid = list[list[bool]]
DATA = {2: (1, 22), 3: (2, 17), 4: (2, 24)}
"""Version -> number of blocks and data bytes of each, at level Q."""
MASKS = (
    lambda r, c: (r + c) % 2 == 0, lambda r, _: r % 2 == 0, lambda _, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0, lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: r * c % 2 + r * c % 3 == 0, lambda r, c: (r * c % 2 + r * c % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + r * c % 3) % 2 == 0,
)  # fmt: skip


def grid_of(svg: str) -> tuple[Grid, int]:
    """The modules that the drawing shows dark, without its quiet zone, and that zone's width."""
    line = re.search(r'stroke="#000"[^>]*\sd="([^"]+)"|\sd="([^"]+)"[^>]*stroke="#000"', svg)
    assert line, svg[:300]
    dark, x, y = set(), 0.0, 0.0
    for letter, numbers in re.findall(r"([Mmh])([-\d. ]+)", line[1] or line[2]):
        values = [float(n) for n in re.findall(r"-?[\d.]+", numbers)]
        if letter == "h":
            dark |= {(int(y), int(x) + i) for i in range(int(values[0]))}
            x += values[0]
        else:
            x, y = (values[0], values[1]) if letter == "M" else (x + values[0], y + values[1])
    quiet = min(row for row, _ in dark)
    size = max(row for row, _ in dark) - quiet + 1
    assert min(column for _, column in dark) == quiet
    return [[(r + quiet, c + quiet) in dark for c in range(size)] for r in range(size)], quiet


def level_and_mask(grid: Grid) -> tuple[str, int]:
    """What the format bits beside the upper left finder say."""
    places = [(8, c) for c in (0, 1, 2, 3, 4, 5, 7, 8)] + [(r, 8) for r in (7, 5, 4, 3, 2, 1, 0)]
    bits = int("".join("1" if grid[r][c] else "0" for r, c in places), 2) ^ 0x5412
    return {1: "L", 0: "M", 3: "Q", 2: "H"}[bits >> 13], bits >> 10 & 7


def _fixed(size: int, row: int, column: int) -> bool:
    """Whether a module belongs to finders, timing, alignment or format."""
    corner = (row < 9 and column < 9) or (row < 9 and column > size - 9)
    corner = corner or (row > size - 9 and column < 9)
    middle = abs(row - (size - 7)) <= 2 and abs(column - (size - 7)) <= 2
    return corner or middle or row == 6 or column == 6


def read_qr(svg: str) -> str:
    """The text that the code holds."""
    grid, _ = grid_of(svg)
    size, (level, mask) = len(grid), level_and_mask(grid)
    assert level == "Q"
    blocks, each = DATA[(size - 17) // 4]
    bits, upward = [], True
    for right in (c for c in range(size - 1, 0, -2)):
        right = right if right > 6 else right - 1
        for row in range(size - 1, -1, -1) if upward else range(size):
            for column in (right, right - 1):
                if not _fixed(size, row, column):
                    bits.append(grid[row][column] != MASKS[mask](row, column))
        upward = not upward
    words = [sum(b << 7 - i for i, b in enumerate(bits[n : n + 8])) for n in range(0, len(bits), 8)]
    data = [words[i * blocks + block] for block in range(blocks) for i in range(each)]
    stream = "".join(f"{word:08b}" for word in data)
    assert stream[:4] == "0100"
    count = int(stream[4:12], 2)
    return bytes(int(stream[12 + 8 * i : 20 + 8 * i], 2) for i in range(count)).decode()
