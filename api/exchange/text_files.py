"""The text of a file, line by line: its encoding is found first, and the whole of it is never in memory."""

import codecs
import io
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import IO

from api.exchange.refusals import FileRefused
from inventory.facts import Fact, fact

LEGACY = "cp1252"
# What UTF-8 looks like when it was read as Windows-1252 somewhere on the way.
MISREAD = re.compile("[ÃÂ][\u0080-\u00bf€‚ƒ„…†‡ˆ‰Š‹Œ‘’“”•–—˜™š›œ]|â€")
MARKS = ((b"\xef\xbb\xbf", "utf-8"), (b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be"))
CHUNK_BYTES = 1_000_000
LONGEST_LINE = 4_000_000
"""Two hundred cells of twenty thousand characters."""
ENDS = ("\n", "\r")


@dataclass(frozen=True)
class TextFile:
    """A file that can be read again from `start`, in an encoding that fits all of it."""

    stream: IO[bytes]
    encoding: str
    start: int
    line_count: int
    notes: tuple[Fact, ...] = ()

    def lines(self, newline: str = "") -> Iterator[str]:
        self.stream.seek(self.start)
        text = io.TextIOWrapper(self.stream, self.encoding, newline=newline)
        try:
            while line := text.readline(LONGEST_LINE):
                if len(line) == LONGEST_LINE and not line.endswith(ENDS):
                    raise FileRefused(fact("line_too_long", most=LONGEST_LINE))
                yield line
        finally:
            text.detach()

    def first_line(self) -> tuple[str, int]:
        """The first line, and how long it really is."""
        first, length = "", 0
        self.stream.seek(self.start)
        text = io.TextIOWrapper(self.stream, self.encoding, newline="\n")
        while part := text.readline(LONGEST_LINE):
            first, length = first or part, length + len(part.rstrip("\n"))
            if part.endswith("\n"):
                break
        text.detach()
        return first.rstrip("\n"), length

    def is_whole(self) -> bool:
        """Whether its last line has an end."""
        size = self.stream.seek(0, io.SEEK_END)
        self.stream.seek(max(self.start, size - 4))
        return self.stream.read().decode(self.encoding, "replace").endswith(ENDS)


class Damaged(Exception):  # noqa: N818 - says what it is
    """The bytes at `position` are no text of that encoding."""

    def __init__(self, position: int) -> None:
        super().__init__(position)
        self.position = position


def open_text(stream: IO[bytes]) -> TextFile:
    """Its encoding, found by reading all of it, and what had to be assumed."""
    stream.seek(0)
    head = stream.read(4)
    for mark, encoding in MARKS:
        if head.startswith(mark):
            return TextFile(stream, encoding, len(mark), marked_lines(stream, encoding, len(mark)))
    try:
        lines = count_lines(decoded(stream, "utf-8", 0), fact("file_has_nul_bytes"))
    except Damaged as error:
        return legacy_text(stream, error.position)
    return TextFile(stream, "utf-8", 0, lines)


def count_lines(texts: Iterable[str], refusal: Fact) -> int:
    lines = 0
    for text in texts:
        if "\0" in text:
            raise FileRefused(refusal)
        lines += text.count("\n")
    return lines


def marked_lines(stream: IO[bytes], encoding: str, start: int) -> int:
    try:
        return count_lines(decoded(stream, encoding, start), fact("file_has_nul_characters"))
    except Damaged as error:
        damage = fact("file_encoding_damaged", encoding=encoding, byte=error.position)
        raise FileRefused(damage) from error


def legacy_text(stream: IO[bytes], position: int) -> TextFile:
    line = line_at(stream, position)
    refusal = FileRefused(fact("file_encoding_not_known", line=line))
    try:
        lines = count_lines(as_legacy(stream, refusal), fact("file_has_nul_bytes"))
    except Damaged as error:
        raise refusal from error
    return TextFile(stream, LEGACY, 0, lines, (fact("read_as_windows_1252", line=line),))


def as_legacy(stream: IO[bytes], refusal: FileRefused) -> Iterator[str]:
    last = ""
    for text in decoded(stream, LEGACY, 0):
        if MISREAD.search(last + text) or any(ord(c) < 32 and c not in "\0\r\n\t" for c in text):
            raise refusal
        yield text
        last = text[-2:]


def line_at(stream: IO[bytes], position: int) -> int:
    stream.seek(0)
    line = 1
    while position > 0 and (chunk := stream.read(min(CHUNK_BYTES, position))):
        line += chunk.count(b"\n")
        position -= len(chunk)
    return line


def decoded(stream: IO[bytes], encoding: str, start: int) -> Iterator[str]:
    decoder = codecs.getincrementaldecoder(encoding)()
    position = stream.seek(start)
    while True:
        chunk = stream.read(CHUNK_BYTES)
        waiting = len(decoder.getstate()[0])
        try:
            yield decoder.decode(chunk, final=not chunk)
        except UnicodeDecodeError as error:
            raise Damaged(position - waiting + error.start) from error
        if not chunk:
            return
        position += len(chunk)
