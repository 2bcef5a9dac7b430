"""The key: width, depth and standard. The same bore does not imply the same key. Lengths in mm."""

from dataclasses import dataclass

from inventory.facts import fact
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.requirement import Shaft, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, KeyStandard, Operation, Outcome, ShaftKind
from inventory.standards.keys import hub_wall_over_keyseat_mm, key_for_shaft
from inventory.standards.sizes import STORED_DECIMALS, same_nominal

DEPTH_TOLERANCE_MM = 0.15
"""Depths of one system differ by rounding and by their own tolerance (0.1 to 0.3 mm); more is another depth."""

KEY_TABLES = fact("key_tables")
SYSTEMS_WITH_FULL_HEIGHT_KEYS = (KeyStandard.ISO_773, KeyStandard.ASME_B17_1, KeyStandard.BS_46)


@dataclass(frozen=True)
class HubKeyseat:
    """The keyseat that a hub needs for a shaft. `width_mm` is None where neither the key nor its standard is recorded:
    nothing is assumed from the bore. The depth is the table's, or half the width where no table has the key."""

    width_mm: float | None
    height_mm: float | None
    hub_depth_mm: float
    standard: KeyStandard | None

    @property
    def size(self) -> str:
        return f"{self.width_mm:g} × {self.height_mm:g}" if self.height_mm else f"{self.width_mm:g} mm"

    @property
    def values(self) -> dict[str, float | None]:
        """What a fact says about the key."""
        return {"key_width_mm": self.width_mm, "key_height_mm": self.height_mm}


def keyseat_for(shaft: Shaft) -> HubKeyseat:
    """The keyseat for a keyed shaft: as recorded, completed from the table of its own standard.

    >>> keyseat_for(Shaft(kind=ShaftKind.KEYED, diameter_mm=25, key_width_mm=8)).hub_depth_mm
    3.3
    """
    for standard in _possible_standards(shaft):
        row = key_for_shaft(shaft.diameter_mm or 0.0, standard.value)
        if row is not None and (shaft.key_width_mm is None or same_nominal(row.width_mm, shaft.key_width_mm)):
            return HubKeyseat(
                row.width_mm,
                shaft.key_height_mm or row.height_mm,
                shaft.keyway_depth_mm or row.hub_depth_mm or row.width_mm / 2,
                standard,
            )
    depth_mm = shaft.keyway_depth_mm or (shaft.key_width_mm or 0.0) / 2
    return HubKeyseat(shaft.key_width_mm, shaft.key_height_mm, depth_mm, shaft.key_standard)


def _possible_standards(shaft: Shaft) -> tuple[KeyStandard, ...]:
    if shaft.diameter_mm is None:
        return ()
    if shaft.key_standard is not None:
        return (shaft.key_standard,)
    return () if shaft.key_width_mm is None else tuple(KeyStandard)


def wall_over_keyseat_mm(hub_diameter_mm: float, bore_mm: float, shaft: Shaft) -> float:
    """Wall that a hub keeps over the keyseat of this shaft; over the bore where there is no key or it is not known."""
    depth_mm = _keyseat_depth_mm(shaft)
    wall_mm = hub_wall_over_keyseat_mm(hub_diameter_mm, bore_mm=bore_mm, hub_depth_mm=depth_mm)
    return round(wall_mm, STORED_DECIMALS)


def least_wall_mm(bore_mm: float, shaft: Shaft, practice: Practice) -> float:
    """Least wall: the keyseat's own depth, or a tenth of the bore. Judgement of this project, no published rule."""
    share_mm = practice.thresholds.wall_over_keyseat_share * bore_mm
    return round(max(_keyseat_depth_mm(shaft), share_mm), STORED_DECIMALS)


def _keyseat_depth_mm(shaft: Shaft) -> float:
    return keyseat_for(shaft).hub_depth_mm if shaft.kind is ShaftKind.KEYED else 0.0


def check_key(shaft: Shaft, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Keyway of a bored-to-size hub against the key on the shaft."""
    if shaft.kind is not ShaftKind.KEYED:
        return ()
    keyseat, keyway_mm = keyseat_for(shaft), offered.keyway_width_mm
    if keyseat.width_mm is None:
        reason = fact("shaft_key_not_recorded", shaft_mm=shaft.diameter_mm)
        return (not_recorded(Aspect.KEY, reason, offered=keyway_mm),)
    if keyway_mm is None:
        return (not_recorded(Aspect.KEY, fact("keyway_not_recorded"), required=keyseat.width_mm),)
    excess_mm = round(keyway_mm - keyseat.width_mm, STORED_DECIMALS)
    if practice.thresholds.is_same_size(keyway_mm, keyseat.width_mm):
        return _check_depth(keyseat, offered, practice)
    return (_too_narrow(keyseat, keyway_mm, practice) if excess_mm < 0 else _too_wide(keyseat, keyway_mm),)


def _too_narrow(keyseat: HubKeyseat, keyway_mm: float, practice: Practice) -> Finding:
    margin_mm = round(keyway_mm - (keyseat.width_mm or 0.0), 4)
    return Finding(
        Aspect.KEY,
        Outcome.WORK,
        (fact("keyway_too_narrow", keyway_mm=keyway_mm, **keyseat.values),),
        **compared(keyseat.width_mm, keyway_mm, limit=keyseat.width_mm, margin=margin_mm),
        sources=(KEY_TABLES, fact("no_metric_key_fits_inch_keyseat")),
        work=(practice.times.step(Operation.CUT_KEYSEAT, fact("recut_keyseat", **keyseat.values)),),
    )


def _too_wide(keyseat: HubKeyseat, keyway_mm: float) -> Finding:
    play_mm = keyway_mm - (keyseat.width_mm or 0.0)
    reason = fact("keyway_too_wide", keyway_mm=keyway_mm, play_mm=play_mm, **keyseat.values)
    figures = compared(keyseat.width_mm, keyway_mm, limit=keyseat.width_mm, margin=round(-play_mm, 4))
    sources = (KEY_TABLES, fact("stepped_key_practice"))
    return Finding(Aspect.KEY, Outcome.REVIEW, (reason,), **figures, sources=sources)


def _check_depth(keyseat: HubKeyseat, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Equal width. A keyway less deep than the key needs carries the hub on top of the key."""
    depth_mm = offered.keyway_depth_mm or _table_depth_mm(offered)
    if depth_mm is None:
        return (_same_width(keyseat, offered), _depth_not_recorded(keyseat, offered))
    if round(keyseat.hub_depth_mm - depth_mm, STORED_DECIMALS) > DEPTH_TOLERANCE_MM:
        return (_too_shallow(keyseat, depth_mm, practice),)
    return (_same_width(keyseat, offered),)


def _same_width(keyseat: HubKeyseat, offered: Sprocket) -> Finding:
    source = fact("key_width_of_standard" if keyseat.standard else "key_width_as_recorded")
    reason = fact("keyway_fits_key", keyway_mm=offered.keyway_width_mm, **keyseat.values)
    figures = compared(keyseat.width_mm, offered.keyway_width_mm, limit=keyseat.width_mm, margin=0.0)
    return Finding(Aspect.KEY, Outcome.OK, (reason,), **figures, sources=(source,))


def _too_shallow(keyseat: HubKeyseat, depth_mm: float, practice: Practice) -> Finding:
    needed_mm = keyseat.hub_depth_mm
    return Finding(
        Aspect.KEY,
        Outcome.WORK,
        (fact("keyway_too_shallow", depth_mm=depth_mm, needed_depth_mm=needed_mm, **keyseat.values),),
        **compared(needed_mm, depth_mm, limit=needed_mm, margin=round(depth_mm - needed_mm, 3)),
        sources=(fact("hub_keyway_depths"),),
        work=(practice.times.step(Operation.CUT_KEYSEAT, fact("deepen_keyseat", depth_mm=needed_mm)),),
    )


def _depth_not_recorded(keyseat: HubKeyseat, offered: Sprocket) -> Finding:
    """Bore and width settle the depth, except where a standard has this width with less depth, or the key needs more."""
    usual_mm = [
        row.hub_depth_mm
        for standard in SYSTEMS_WITH_FULL_HEIGHT_KEYS
        if (row := key_for_shaft(offered.bore_mm or 0.0, standard.value)) is not None
        and row.hub_depth_mm is not None
        and same_nominal(row.width_mm, offered.keyway_width_mm or 0.0)
    ]
    if not usual_mm or round(keyseat.hub_depth_mm - min(usual_mm), STORED_DECIMALS) <= DEPTH_TOLERANCE_MM:
        return not_required(Aspect.KEY, fact("keyway_depth_not_recorded"))
    reason = fact(
        "keyway_may_be_too_shallow", needed_depth_mm=keyseat.hub_depth_mm, usual_depth_mm=min(usual_mm)
    )
    return not_recorded(Aspect.KEY, reason, required=keyseat.hub_depth_mm)


def _table_depth_mm(offered: Sprocket) -> float | None:
    if offered.key_standard is None or offered.bore_mm is None or offered.keyway_width_mm is None:
        return None
    row = key_for_shaft(offered.bore_mm, offered.key_standard.value)
    is_that_key = row is not None and same_nominal(row.width_mm, offered.keyway_width_mm)
    return row.hub_depth_mm if row is not None and is_that_key else None
