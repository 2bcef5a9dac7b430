"""What a printed PDF holds, read from its content streams: the pages, and the places of every path in mm of the paper."""

import re
import subprocess
import zlib
from dataclasses import dataclass, field
from pathlib import Path as File

from tests.chromium import ARGUMENTS, CHROMIUM

MM_PER_POINT = 25.4 / 72
IDENTITY = (1.0, 0.0, 0.0, 1.0, 0.0, 0.0)
STREAM = re.compile(rb"(\d+) 0 obj\s*(<<.*?>>)\s*stream\r?\n", re.DOTALL)
TOKEN = re.compile(rb"\((?:\\.|[^\\()])*\)|<[0-9A-Fa-f\s]*>|/?[^\s\[\]()<>/]+|[\[\]]")
ENDS = {"m": 2, "l": 2, "c": 6}
"""Operators of a path with as many numbers; the last two are where they end."""


@dataclass
class Path:
    places: list[tuple[float, float]] = field(default_factory=list)

    @property
    def width_mm(self):
        return max(x for x, _ in self.places) - min(x for x, _ in self.places)

    @property
    def height_mm(self):
        return max(y for _, y in self.places) - min(y for _, y in self.places)


def printed_file(html: File) -> bytes:
    """By a browser of its own that ends with the page: one that is driven keeps its loop running under the tests that follow."""
    pdf = html.with_suffix(".pdf")
    printing = ["--headless", "--no-pdf-header-footer", f"--print-to-pdf={pdf}", html.as_uri()]
    subprocess.run([str(CHROMIUM), *ARGUMENTS, *printing], check=True, capture_output=True, timeout=120)
    return pdf.read_bytes()


def page_count(pdf: bytes) -> int:
    return len(re.findall(rb"/Type\s*/Page\b", pdf))


def page_sizes_mm(pdf: bytes) -> list[tuple[float, float]]:
    boxes = re.findall(rb"/MediaBox\s*\[\s*([^\]]*)\]", pdf)
    return [tuple(round(float(part) * MM_PER_POINT, 1) for part in box.split()[2:]) for box in boxes]


def paths(pdf: bytes) -> list[Path]:
    """Every path that is painted, page after page."""
    found = []
    for match in STREAM.finditer(pdf):
        length = int(re.search(rb"/Length (\d+)", match[2])[1])
        raw = pdf[match.end() : match.end() + length]
        content = zlib.decompress(raw) if b"/FlateDecode" in match[2] else raw
        if b"/Subtype" not in match[2] and re.search(rb"\bcm\b", content):
            found += _paths_of(content)
    return found


def rectangles_mm(pdf: bytes) -> list[tuple[float, float, float, float]]:
    """Left, top, width and height of what is drawn as a rectangle, from the upper left corner of the first page's size."""
    _width, height = page_sizes_mm(pdf)[0]
    boxes = [path for path in paths(pdf) if len(path.places) == 2]
    return [
        (
            min(x for x, _ in box.places),
            height - max(y for _, y in box.places),
            box.width_mm,
            box.height_mm,
        )
        for box in boxes
    ]


def _paths_of(content: bytes) -> list[Path]:
    found, numbers, matrix, kept, path = [], [], IDENTITY, [], Path()
    for token in TOKEN.findall(content):
        word = token.decode("latin-1")
        try:
            numbers.append(float(word))
            continue
        except ValueError:
            pass
        if word == "q":
            kept.append(matrix)
        elif word == "Q":
            matrix = kept.pop()
        elif word == "cm":
            matrix = _times(numbers[-6:], matrix)
        elif word in ENDS:
            path.places.append(_on_paper(numbers[-2:], matrix))
        elif word == "re":
            x, y, width, height = numbers[-4:]
            path.places += [_on_paper(corner, matrix) for corner in ((x, y), (x + width, y + height))]
        elif word in ("S", "s", "f", "f*", "B", "B*", "n"):
            if word != "n" and path.places:
                found.append(path)
            path = Path()
        numbers = []
    return found


def _times(first, second):
    a, b, c, d, e, f = first
    g, h, i, j, k, m = second
    return (
        a * g + b * i,
        a * h + b * j,
        c * g + d * i,
        c * h + d * j,
        e * g + f * i + k,
        e * h + f * j + m,
    )


def _on_paper(place, matrix):
    (x, y), (a, b, c, d, e, f) = place, matrix
    return (a * x + c * y + e) * MM_PER_POINT, (b * x + d * y + f) * MM_PER_POINT
