"""The key: width, depth and standard. The same bore does not imply the same key."""

from dataclasses import dataclass

from inventory.facts import fact
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Shaft, Specification, not_asked, not_known
from inventory.interchange.vocabulary import Aspect, KeyStandard, Operation, Outcome, ShaftKind
from inventory.interchange.wording import size_text
from inventory.standards.hubs import hub_wall_over_keyseat_mm
from inventory.standards.keys import key_for_shaft
from inventory.standards.sizes import STORED_DECIMALS, same_nominal

DEPTH_TOLERANCE_MM = 0.15
"""Depths of one system differ by rounding and by their own tolerance (0.1 to 0.3 mm); more is another depth."""
DEPTH_SOURCE = "hub depths of ISO 773, DIN 6885-3, ASME B17.1 and BS 46"


@dataclass(frozen=True)
class Keyseat:
    """The keyseat that a hub needs for a shaft; the depth is the table's, or half the width where no table has the key."""

    width_mm: float | None
    height_mm: float | None
    hub_depth_mm: float
    standard: KeyStandard | None

    @property
    def text(self) -> str:
        if self.width_mm is None:
            return "not recorded"
        return f"{self.width_mm:g} × {self.height_mm:g}" if self.height_mm else f"{self.width_mm:g} mm"


def keyseat_for(shaft: Shaft) -> Keyseat:
    """The keyseat for a keyed shaft: as recorded, completed from the table of its own standard.

    Parameters
    ----------
    shaft : Shaft
        With its diameter in mm; key width or key standard where known.

    Returns
    -------
    Keyseat
        `width_mm` is None when neither the key nor its standard is recorded: nothing is assumed from the bore.

    Source: ISO 773, ASME B17.1, BS 46-1 tables of `inventory.standards.keys`.

    Examples
    --------
    >>> keyseat_for(Shaft(kind=ShaftKind.KEYED, diameter_mm=25, key_width_mm=8)).hub_depth_mm
    3.3
    """
    if shaft.diameter_mm is None:
        return Keyseat(
            shaft.key_width_mm,
            shaft.key_height_mm,
            shaft.keyway_depth_mm or (shaft.key_width_mm or 0) / 2,
            shaft.key_standard,
        )
    for standard in [shaft.key_standard] if shaft.key_standard else list(KeyStandard):
        row = key_for_shaft(shaft.diameter_mm, standard.value)
        if row is not None and (shaft.key_width_mm is None or same_nominal(row.width_mm, shaft.key_width_mm)):
            if shaft.key_width_mm is None and shaft.key_standard is None:
                continue
            return Keyseat(
                row.width_mm,
                shaft.key_height_mm or row.height_mm,
                shaft.keyway_depth_mm or row.hub_depth_mm or row.width_mm / 2,
                standard,
            )
    width = shaft.key_width_mm
    return Keyseat(
        width, shaft.key_height_mm, shaft.keyway_depth_mm or (width or 0.0) / 2, shaft.key_standard
    )


def wall_over_keyseat_mm(hub_diameter_mm: float, bore_mm: float, shaft: Shaft) -> float:
    """Wall that a hub keeps over the keyseat of this shaft; over the bore where the key is none or not known. Lengths in mm."""
    depth_mm = keyseat_for(shaft).hub_depth_mm if shaft.kind is ShaftKind.KEYED else 0.0
    if not depth_mm:
        return (hub_diameter_mm - bore_mm) / 2
    return hub_wall_over_keyseat_mm(hub_diameter_mm, bore_mm=bore_mm, hub_depth_mm=depth_mm)


def wanted_wall_mm(bore_mm: float, shaft: Shaft, practice: Practice) -> float:
    """Least wall: the keyseat's own depth, or a tenth of the bore. Judgement of this project, no published rule."""
    depth_mm = keyseat_for(shaft).hub_depth_mm if shaft.kind is ShaftKind.KEYED else 0.0
    return max(depth_mm, practice.thresholds.wall_over_keyseat_share * bore_mm)


def check_key(shaft: Shaft, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Keyway of a bored-to-size hub against the key on the shaft."""
    if shaft.kind is not ShaftKind.KEYED:
        return ()
    wanted = keyseat_for(shaft)
    if wanted.width_mm is None:
        return (
            not_known(
                Aspect.KEY,
                fact(
                    "text",
                    text=f"The key of the {size_text(shaft.diameter_mm)} shaft is not recorded: measure its width.",
                ),
                offered=offered.keyway_width_mm,
            ),
        )
    if offered.keyway_width_mm is None:
        return (
            not_known(
                Aspect.KEY,
                fact(
                    "text", text="Whether the bore has a keyway, and how wide, is not recorded: look at it."
                ),
                required=wanted.width_mm,
            ),
        )
    difference = round(offered.keyway_width_mm - wanted.width_mm, STORED_DECIMALS)
    if abs(difference) <= practice.thresholds.bore_tolerance_mm:
        return _depth(wanted, offered, practice)
    return (_narrow(wanted, offered, practice) if difference < 0 else _wide(wanted, offered),)


def _narrow(wanted: Keyseat, offered: Specification, practice: Practice) -> Finding:
    given = offered.keyway_width_mm or 0.0
    return Finding(
        aspect=Aspect.KEY,
        outcome=Outcome.WORK,
        required=wanted.width_mm,
        offered=given,
        limit=wanted.width_mm,
        margin=round(given - (wanted.width_mm or 0), 4),
        facts=(
            fact(
                "text",
                text=f"Keyway {size_text(given)}, key {size_text(wanted.width_mm)}: the key does not enter. Recut the keyseat to {wanted.text}; "
                "a stepped key is a modification and has to be recorded as one.",
            ),
        ),
        sources=(fact("text", text="ISO 773, ASME B17.1, BS 46: no metric key fits an inch keyseat"),),
        work=(
            practice.times.step(
                Operation.CUT_KEYSEAT, fact("text", text=f"recut the keyseat to {wanted.text}")
            ),
        ),
    )


def _wide(wanted: Keyseat, offered: Specification) -> Finding:
    given = offered.keyway_width_mm or 0.0
    return Finding(
        aspect=Aspect.KEY,
        outcome=Outcome.REVIEW,
        required=wanted.width_mm,
        offered=given,
        limit=wanted.width_mm,
        margin=round((wanted.width_mm or 0) - given, 4),
        facts=(
            fact(
                "text",
                text=f"Keyway {size_text(given)}, key {size_text(wanted.width_mm)}: {given - (wanted.width_mm or 0):.2f} mm play at the key's sides, it rolls over. "
                "A stepped key or a second keyseat is a modification: someone has to answer for it.",
            ),
        ),
        sources=(
            fact(
                "text", text="ISO 773, ASME B17.1, BS 46: key widths; stepped key: common practice, no source"
            ),
        ),
    )


def _depth(wanted: Keyseat, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Equal width. A keyway less deep than the key needs carries the hub on top of the key."""
    given = offered.keyway_depth_mm or _table_depth_mm(offered)
    if given is not None and given < wanted.hub_depth_mm - DEPTH_TOLERANCE_MM:
        return (_too_shallow(wanted, given, practice),)
    if given is None:
        return (_equal_width(wanted, offered), _depth_not_recorded(wanted, offered))
    return (_equal_width(wanted, offered),)


def _too_shallow(wanted: Keyseat, given: float, practice: Practice) -> Finding:
    return Finding(
        aspect=Aspect.KEY,
        outcome=Outcome.WORK,
        required=wanted.hub_depth_mm,
        offered=given,
        limit=wanted.hub_depth_mm,
        margin=round(given - wanted.hub_depth_mm, 3),
        facts=(
            fact(
                "text",
                text=f"Equal key width {size_text(wanted.width_mm)}, but the hub keyway is {given:.2f} mm deep where the key needs {wanted.hub_depth_mm:.2f} mm: "
                "deepen it, or the hub rides on the key.",
            ),
        ),
        sources=(fact("text", text=DEPTH_SOURCE),),
        work=(
            practice.times.step(
                Operation.CUT_KEYSEAT, fact("text", text=f"deepen the keyseat to {wanted.hub_depth_mm:g} mm")
            ),
        ),
    )


def _depth_not_recorded(wanted: Keyseat, offered: Specification) -> Finding:
    """Bore and width settle the depth, except where a standard has this width with less depth, or the key needs more."""
    usual = [
        row.hub_depth_mm
        for standard in (KeyStandard.ISO_773, KeyStandard.ASME_B17_1, KeyStandard.BS_46)
        if (row := key_for_shaft(offered.bore_mm or 0.0, standard.value)) is not None
        and row.hub_depth_mm is not None
        and same_nominal(row.width_mm, offered.keyway_width_mm or 0.0)
    ]
    if usual and min(usual) < wanted.hub_depth_mm - DEPTH_TOLERANCE_MM:
        return not_known(
            Aspect.KEY,
            fact(
                "text",
                text=f"The depth of the candidate's keyway is not recorded; the key needs {wanted.hub_depth_mm:.2f} mm, and keyways of this width are also made "
                f"{min(usual):.2f} mm deep: measure it.",
            ),
            required=wanted.hub_depth_mm,
        )
    return not_asked(
        Aspect.KEY,
        fact("text", text="The depth of the candidate's keyway is not recorded: try the key in it."),
    )


def _equal_width(wanted: Keyseat, offered: Specification) -> Finding:
    return Finding(
        aspect=Aspect.KEY,
        outcome=Outcome.OK,
        required=wanted.width_mm,
        offered=offered.keyway_width_mm,
        limit=wanted.width_mm,
        margin=0.0,
        facts=(fact("text", text=f"Keyway {size_text(offered.keyway_width_mm)} for a {wanted.text} key."),),
        sources=(
            fact(
                "text",
                text="key widths of the recorded standard" if wanted.standard else "key width as recorded",
            ),
        ),
    )


def _table_depth_mm(offered: Specification) -> float | None:
    if offered.key_standard is None or offered.bore_mm is None:
        return None
    row = key_for_shaft(offered.bore_mm, offered.key_standard.value)
    if (
        row is None
        or offered.keyway_width_mm is None
        or not same_nominal(row.width_mm, offered.keyway_width_mm)
    ):
        return None
    return row.hub_depth_mm
