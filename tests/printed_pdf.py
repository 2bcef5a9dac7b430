"""What a browser printed: rectangles of each page in mm from its upper left corner."""

import re
import zlib

PAGE = re.compile(rb"/Type\s*/Page\b")
STREAM = re.compile(rb"stream\r?\n(.*?)\r?\nendstream", re.DOTALL)
HEIGHT = re.compile(rb"/MediaBox ?\[0 0 ([\d.]+) ([\d.]+)\]")
MM = 25.4 / 72
Matrix = tuple[float, ...]
WHOLE: Matrix = (1, 0, 0, 1, 0, 0)


def page_count(pdf: bytes) -> int:
    return len(PAGE.findall(pdf))


def page_size_mm(pdf: bytes) -> tuple[float, float]:
    found = HEIGHT.search(pdf)
    assert found
    return float(found[1]) * MM, float(found[2]) * MM


def rectangles_mm(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Left, top, width and height of what is drawn as a rectangle outline."""
    height, found = page_size_mm(pdf)[1], []
    for stream in STREAM.findall(pdf):
        try:
            found += _outlines(zlib.decompress(stream).decode("latin-1"))
        except zlib.error:
            continue
    return [(x * MM, height - y * MM, w * MM, h * MM) for x, y, w, h in found]


def _outlines(program: str) -> list[tuple[float, float, float, float]]:
    found, waiting, kept, matrix = [], [], [], WHOLE
    numbers: list[float] = []
    for word in program.split():
        if re.fullmatch(r"[-+]?(\d+\.?\d*|\.\d+)", word):
            numbers.append(float(word))
            continue
        if word == "q":
            kept.append(matrix)
        elif word == "Q":
            matrix = kept.pop()
        elif word == "cm":
            matrix = _times(tuple(numbers[-6:]), matrix)
        elif word == "re":
            x, y, w, h = numbers[-4:]
            a, b, c, d, e, f = matrix
            waiting.append((a * x + c * y + e, b * x + d * y + f, abs(a * w + c * h), abs(b * w + d * h)))
        elif word == "S":
            found += waiting
        if word in ("S", "f", "n", "f*"):
            waiting = []
        numbers = []
    return found


def _times(inner: Matrix, outer: Matrix) -> Matrix:
    a, b, c, d, e, f = inner
    A, B, C, D, E, F = outer
    return (
        *(a * A + b * C, a * B + b * D, c * A + d * C, c * B + d * D),
        *(e * A + f * C + E, e * B + f * D + F),
    )
