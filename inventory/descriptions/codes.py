"""Codes of sprockets and chains: D60B20, 60BS18HT, 80SK35, 60-2, 08B-1, 16B2, 06B1-21, C2040.

The grammar is a habit of the trade, except the chain designations of ISO 606 and ASME B29.1: the standards number the chain.
"""

import re
from dataclasses import dataclass
from functools import cache

from inventory.standards.chains import UnknownChain, chains, find_chain
from inventory.standards.tooth_counts import COUNTED_TEETH

INCH_CHAINS = ("25", "35", "40", "41", "50", "60", "80", "100", "120", "140", "160", "180", "200", "240")
ROWS = {"D": 2, "E": 3, "F": 4}
TWO_SINGLE_ROWS = "2x1"
HUB_TYPES = frozenset("ABCD")
QD_TYPES = frozenset({"JA", "SH", "SDS", "SD", "SK", "SF", "E", "F", "J", "M", "QD"})

_CHAIN = "|".join(sorted(INCH_CHAINS, key=len, reverse=True))
_TEETH = r"(?P<teeth>[1-9][0-9]{1,2}|[6-9]|\?{1,3})"
_TYPE = r"(?P<type>BS|BB|[ABC]?TB|JA|SH|SDS|SD|SK|SF|QD|[ABCDEFJM])"
INCH = re.compile(
    rf"(?P<rows>DS|[DEF])?-?(?P<chain>{_CHAIN})(?P<heavy>H)?(?:-(?P<strands>[1-8]))?(?:-(?=[ABC][0-9]))?{_TYPE}(?P<dash>(?<=[ABC])-(?=[0-9]{{2}}))?{_TEETH}"
    r"(?P<suffix>HTSS|HT|SS|H)?(?P<marked>T(?:EETH|H)?(?![A-Z]))?(?![0-9]|\.[0-9])"
)
INCH_SPACED = re.compile(
    rf"(?P<chain>{_CHAIN})(?P<heavy>H)?(?:\s(?P<type>[ABC]|BS)\s|(?P<type2>[ABC]|BS|SDS|SK|SF|SH|JA|TB)\s|\s(?P<type3>B|BS|TB|SDS|SK|SF|SH)|-(?P<type4>[ABC])-)"
    r"(?P<teeth>[1-9][0-9]{1,2}|\?{1,3})(?P<suffix>HT|H)?(?P<marked>\s?(?:T|TEETH|TH|Z)(?![A-Z]))?"
    r"(?![0-9/]|[.,][0-9]|\s?(?:MM|\"|''|IN\b))"
)
ISO = re.compile(
    r"(?P<size>0[3-8]|10|12|16|20|24|28|32|36|40|48|56|64|72|[568](?=B\s?[-/]\s?[1-4]\b))(?:\s(?=[AB]\s?-\s?[1-4](?![0-9/])))?(?P<series>[ABC])(?P<heavy>H)?"
    r"(?:\s?(?P<sep>[-/._]|-\s)(?P<strands>[1-9])(?![0-9]|\.[0-9]|/(?![1-9][0-9]{1,2}\s?[TZ]\b)|\s?(?:MM|\"|''))|(?P<glued>[1-4])(?![0-9/]|[.,][0-9]|-[0-9]/|\s?(?:MM|\"|''|IN\b)))?"
    r"(?:(?:\s?[-X]\s?|/(?=[0-9]{2,3}\s?[TZ]\b))(?P<teeth>[1-9][0-9]{1,2})(?P<marked>\s?[TZ]\b)?(?![0-9]|[.,/][0-9]|\s?(?:MM|\"|''|IN\b|X)))?"
    r"(?![A-FI-SU-WY]|H(?![TD]))"
)
STRANDED = re.compile(
    rf"(?P<chain>{_CHAIN})(?P<heavy>H)?\s?-\s?(?P<strands>[1-8])"
    r"(?:\s?[-X]\s?(?P<teeth>[1-9][0-9]{1,2})\s?[TZ]\b)?(?![0-9/]|[-.][0-9]|\s?(?:MM|\"|''|IN\b))"
)
DASHED_TEETH = re.compile(
    rf"(?P<chain>{_CHAIN})(?P<heavy>H)?\s?(?:-|X|\sX)\s?(?P<teeth>[1-9][0-9]{{1,2}})(?![0-9./,]|\s?(?:MM|\"|''|IN\b|X\s?[0-9]|KW|KEY|NUT|PASSF|CHAV|CAVA|RAIN))"
    r"(?P<marked>\s?(?:T|TEETH|TH|Z)(?![A-Z]))?"
)
HEAVY = re.compile(rf"(?P<chain>{_CHAIN})H(?![A-Z0-9])")
ISO_TYPED = re.compile(
    r"(?P<size>0[4-8]|10|12|16|20|24|28|32)(?P<series>[AB])(?P<type>[ABCD]|BS|TB)(?P<teeth>[1-9][0-9]{1,2})(?P<suffix>HT|H)?(?![A-Z0-9]|[.,][0-9])"
)
DOUBLE_TYPED = re.compile(
    r"(?P<chain>C?2[01][0-9][02]H?)(?P<type>[ABC])(?P<teeth>[1-9][0-9]{1,2})(?P<suffix>HT|H)?(?![A-Z0-9]|[.,][0-9])"
)
DIN_OLD = re.compile(
    r"(?P<type>[AB])\s?(?P<teeth>[1-9][0-9]{1,2})\s?Z\s?(?P<size>0[4-8]|[1-7][0-9])\s?(?P<series>[AB])\s?-\s?(?P<strands>[1-3])(?![0-9])"
)
KEY_BEFORE = re.compile(
    r"(?:KW|KWY|KEY[A-Z]*|K/W|NUT|FEDER[A-Z]*|CAVA|LINGUETTA|CHIAVETTA|CLAVETTE|RAINURE|CHAVETERO|CHAVETA)[\s:=]*$"
)
"""25X14 behind it is the section of a key."""
MAY_BEGIN = frozenset("0123456789DEFCAB")


@dataclass(frozen=True, slots=True)
class ChainCode:
    """What a code says; `strands_said` is False where the code only implies one row. Doubts are named in `doubts`."""

    chain: str
    style: str
    strands: int | str | None = None
    is_strands_said: bool = False
    teeth: int | None = None
    are_teeth_marked: bool = False
    type: str = ""
    suffix: str = ""
    are_teeth_unknown: bool = False
    doubts: tuple[str, ...] = ()


@cache
def _names() -> frozenset[str]:
    return frozenset(name for chain in chains() for name in chain.names)


@cache
def _other_names() -> re.Pattern[str]:
    """Designations that no other code is a part of: double pitch, and the light half-inch chains 081 to 085."""
    names = [
        name
        for chain in chains()
        for name in chain.names
        if chain.is_double_pitch or (name.isdigit() and name.startswith("08"))
    ]
    longest = sorted(names, key=len, reverse=True)
    return re.compile(rf"(?:{'|'.join(longest)})(?:-1(?![0-9/]))?(?![A-Z0-9]|[.,][0-9])")


def standard_name(designation: str) -> str | None:
    """The designation in the table of chains, or None."""
    try:
        return find_chain(designation).designation
    except UnknownChain:
        return None


def _counted(teeth: str | None) -> int | None:
    return int(teeth) if teeth and teeth.isdigit() else None


def _in_range(teeth: int | None) -> bool:
    return teeth is None or COUNTED_TEETH[0] <= teeth <= COUNTED_TEETH[1]


def _inch(match: re.Match[str]) -> ChainCode | None:
    found = match.groupdict()
    teeth = _counted(found["teeth"])
    if not _in_range(teeth):
        return None
    rows, strands = found.get("rows"), found.get("strands")
    count: int | str = TWO_SINGLE_ROWS if rows == "DS" else ROWS.get(rows or "", int(strands or 1))
    kind = found["type"] or found.get("type2") or found.get("type3") or found.get("type4") or ""
    return ChainCode(
        chain=found["chain"] + (found["heavy"] or ""),
        style="inch",
        strands=count,
        is_strands_said=bool(rows or strands),
        teeth=teeth,
        are_teeth_marked=not found.get("dash"),
        type=kind,
        suffix=found["suffix"] or "",
        are_teeth_unknown=teeth is None,
        doubts=("inch_or_iso",)
        if f"{found['chain']}{kind}" in _names() and (found.get("type4") or " " in match[0])
        else (),
    )


def _iso(match: re.Match[str]) -> ChainCode | None:
    found = match.groupdict()
    size = found["size"] if len(found["size"]) == 2 else f"0{found['size']}"
    chain = f"{size}{found['series']}{found['heavy'] or ''}"
    strands, glued = found["strands"], found["glued"]
    if chain not in _names() or (size == "40" and not strands):
        return None
    teeth = _counted(found["teeth"])
    if not _in_range(teeth):
        return None
    doubts = ["inch_or_iso"] if size == "40" else []
    if teeth is not None and not (strands or glued or found["marked"]):
        doubts.append("teeth_not_marked")
    return ChainCode(
        chain=chain,
        style="iso",
        strands=int(strands or glued) if strands or glued else None,
        is_strands_said=bool(strands or glued),
        teeth=teeth,
        are_teeth_marked=bool(strands or glued or found["marked"]),
        doubts=tuple(doubts),
    )


def _stranded(match: re.Match[str]) -> ChainCode | None:
    teeth = _counted(match["teeth"])
    if not _in_range(teeth):
        return None
    return ChainCode(
        chain=match["chain"] + (match["heavy"] or ""),
        style="inch",
        strands=int(match["strands"]),
        is_strands_said=True,
        teeth=teeth,
        are_teeth_marked=True,
    )


def _dashed_teeth(match: re.Match[str]) -> ChainCode | None:
    teeth = _counted(match["teeth"])
    is_marked = bool(match["marked"]) or ("X" in match[0] and " " not in match[0])
    if not _in_range(teeth):
        return None
    return ChainCode(
        chain=match["chain"] + (match["heavy"] or ""),
        style="inch",
        teeth=teeth,
        are_teeth_marked=is_marked,
        doubts=() if is_marked else ("teeth_not_marked",),
    )


def _heavy(match: re.Match[str]) -> ChainCode:
    return ChainCode(chain=match[0], style="inch")


def _din(match: re.Match[str]) -> ChainCode | None:
    chain = match["size"] + match["series"]
    if chain not in _names():
        return None
    return ChainCode(
        chain=chain,
        style="iso",
        strands=int(match["strands"]),
        is_strands_said=True,
        teeth=int(match["teeth"]),
        are_teeth_marked=True,
        type=match["type"],
    )


def _other(match: re.Match[str]) -> ChainCode:
    name = match[0].removesuffix("-1")
    return ChainCode(
        chain=name,
        style="other",
        strands=1 if name != match[0] else None,
        is_strands_said=name != match[0],
    )


def _typed(match: re.Match[str]) -> ChainCode | None:
    """08BB13 and 2050B21: the inch habit with another chain."""
    found = match.groupdict()
    chain = found.get("chain") or f"{found['size']}{found['series']}"
    if chain not in _names():
        return None
    return ChainCode(
        chain=chain,
        style="inch",
        strands=1,
        teeth=int(found["teeth"]),
        are_teeth_marked=True,
        type=found["type"],
        suffix=found["suffix"] or "",
    )


READERS = (
    (ISO_TYPED, _typed),
    (DOUBLE_TYPED, _typed),
    (DIN_OLD, _din),
    (INCH, _inch),
    (INCH_SPACED, _inch),
    (ISO, _iso),
    (STRANDED, _stranded),
    (DASHED_TEETH, _dashed_teeth),
    (HEAVY, _heavy),
)


def read_code(text: str, at: int) -> tuple[ChainCode, int] | None:
    """The code that begins at this place of a folded line, and where it ends."""
    if text[at] not in MAY_BEGIN:
        return None
    if match := _other_names().match(text, at):
        return _other(match), match.end()
    for pattern, reader in READERS:
        if match := pattern.match(text, at):
            if pattern is DASHED_TEETH and KEY_BEFORE.search(text, 0, at):
                continue
            if code := reader(match):
                return code, match.end()
    return None
