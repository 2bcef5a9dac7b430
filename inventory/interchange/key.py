"""The key: width, depth and standard. The same bore does not imply the same key. Lengths in mm."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.requirement import Shaft, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, KeyStandard, Operation, Outcome, ShaftKind
from inventory.standards.confidence import Estimate, SourceKind
from inventory.standards.keys import KeySeat, hub_wall_over_keyseat_mm, key_for_shaft, key_seats_of
from inventory.standards.sizes import STORED_DECIMALS, same_nominal

DEPTH_TOLERANCE_MM = 0.15
"""Depths of one system differ by rounding and by their own tolerance (0.1 to 0.3 mm); more is another depth."""

KEY_STEP_MM = 12.7
"""From one ASME B17.1 row above 11 in to the next: how far a remembered row may be off."""

KEY_TABLES = fact("key_tables")
SYSTEMS_WITH_FULL_HEIGHT_KEYS = (KeyStandard.ISO_773, KeyStandard.ASME_B17_1, KeyStandard.BS_46)


@dataclass(frozen=True)
class HubKeyseat:
    """The keyseat that a hub needs for a shaft: as recorded, completed from the tables. What neither tells is None.

    `estimates` are figures of it that no source shows, or that the tables give differently.
    """

    width_mm: float | None
    height_mm: float | None
    hub_depth_mm: float | None
    standard: KeyStandard | None
    estimates: tuple[Estimate, ...] = ()
    depth_sources: tuple[Fact, ...] = ()

    @property
    def size(self) -> str:
        return f"{self.width_mm:g} × {self.height_mm:g}" if self.height_mm else f"{self.width_mm:g} mm"

    @property
    def values(self) -> dict[str, float | None]:
        """What a fact says about the key."""
        return {"key_width_mm": self.width_mm, "key_height_mm": self.height_mm}


@lru_cache(maxsize=4096)
def keyseat_for(shaft: Shaft) -> HubKeyseat:
    """The keyseat for a keyed shaft: as recorded, completed from the table of its own standard.

    A key that no table has for this diameter takes the depth that the tables give this key elsewhere.

    >>> keyseat_for(Shaft(kind=ShaftKind.KEYED, diameter_mm=25, key_width_mm=8)).hub_depth_mm
    3.3
    >>> keyseat_for(Shaft(kind=ShaftKind.KEYED, diameter_mm=35, key_width_mm=12)).hub_depth_mm
    3.3
    """
    row = _row_for(shaft)
    if row is not None:
        height_mm = shaft.key_height_mm or row.height_mm
        depth_mm = shaft.keyway_depth_mm or row.hub_depth_mm
        estimates = () if row.is_confirmed else tuple(_estimates(shaft, row))
        return HubKeyseat(row.width_mm, height_mm, depth_mm, KeyStandard(row.standard), estimates)
    keyseat = HubKeyseat(shaft.key_width_mm, shaft.key_height_mm, shaft.keyway_depth_mm, shaft.key_standard)
    return keyseat if keyseat.hub_depth_mm else _with_depth_elsewhere(keyseat, shaft)


def _row_for(shaft: Shaft) -> KeySeat | None:
    for standard in _possible_standards(shaft):
        row = key_for_shaft(shaft.diameter_mm or 0.0, standard.value)
        if row is not None and (shaft.key_width_mm is None or same_nominal(row.width_mm, shaft.key_width_mm)):
            return row
    return None


def _possible_standards(shaft: Shaft) -> tuple[KeyStandard, ...]:
    if shaft.diameter_mm is None:
        return ()
    if shaft.key_standard is not None:
        return (shaft.key_standard,)
    return () if shaft.key_width_mm is None else tuple(KeyStandard)


def _estimates(shaft: Shaft, row: KeySeat) -> Iterator[Estimate]:
    """Of a row that was never seen, what the record does not tell: half an inch is the step to the next row."""
    for name, value, error_mm in (
        ("key_width_mm", row.width_mm, KEY_STEP_MM),
        ("key_height_mm", row.height_mm, KEY_STEP_MM),
        ("keyway_depth_mm", row.hub_depth_mm, KEY_STEP_MM / 2),
    ):
        if getattr(shaft, name) is None and value is not None:
            low, high = value - error_mm, value + error_mm
            yield Estimate(name, value, low, high, SourceKind.MEMORY, of=f"{row.standard} {row.size}")


def _with_depth_elsewhere(keyseat: HubKeyseat, shaft: Shaft) -> HubKeyseat:
    """With the depth that the tables give this key at other diameters: the deepest, where they give several."""
    standards = tuple(KeyStandard) if shaft.key_standard is None else (shaft.key_standard,)
    rows = [row for one in standards for row in key_seats_of(one.value) if _is_that_key(row, keyseat)]
    depths_mm = {row.hub_depth_mm for row in rows if row.hub_depth_mm is not None}
    if not depths_mm:
        return keyseat
    least_mm, most_mm = min(depths_mm), max(depths_mm)
    name, size = "keyway_depth_mm", f"{keyseat.width_mm:g} mm"
    span = Estimate(name, most_mm, least_mm, most_mm, SourceKind.DISPUTED, of=size)
    named = tuple(dict.fromkeys(row.standard for row in rows))
    source = fact("keyseat_depth_elsewhere", key_width_mm=keyseat.width_mm, depth_mm=most_mm, standards=named)
    estimates = (span,) if span.low < span.high else ()
    return replace(keyseat, hub_depth_mm=most_mm, estimates=estimates, depth_sources=(source,))


def _is_that_key(row: KeySeat, keyseat: HubKeyseat) -> bool:
    if keyseat.width_mm is None or not row.is_confirmed or not same_nominal(row.width_mm, keyseat.width_mm):
        return False
    return None in (row.height_mm, keyseat.height_mm) or same_nominal(
        row.height_mm or 0, keyseat.height_mm or 0
    )


def wall_over_keyseat_mm(hub_diameter_mm: float, bore_mm: float, shaft: Shaft) -> float:
    """Wall that a hub keeps over the keyseat of this shaft; over the bore where there is no key or it is not known."""
    depth_mm = _keyseat_depth_mm(shaft)
    wall_mm = hub_wall_over_keyseat_mm(hub_diameter_mm, bore_mm=bore_mm, hub_depth_mm=depth_mm)
    return round(wall_mm, STORED_DECIMALS)


def least_wall_mm(bore_mm: float, shaft: Shaft, practice: Practice) -> float:
    """Least wall over the keyseat: its own depth, or a tenth of the bore. Judgement of this project, no published rule."""
    limits = practice.thresholds
    return _least_wall_mm(bore_mm, shaft, limits.wall_over_keyseat_share, limits.wall_over_keyseat_depths)


def wall_turns_on(wall_mm: float, bore_mm: float, shaft: Shaft, practice: Practice) -> tuple[Fact, ...]:
    """The limits of the wall that a pass or a refusal turns on."""
    return practice.turns_on(
        lambda share, depths: wall_mm < _least_wall_mm(bore_mm, shaft, share, depths),
        "wall_over_keyseat_share",
        "wall_over_keyseat_depths",
    )


def _least_wall_mm(bore_mm: float, shaft: Shaft, share: float, depths: float) -> float:
    return round(max(depths * _keyseat_depth_mm(shaft), share * bore_mm), STORED_DECIMALS)


def _keyseat_depth_mm(shaft: Shaft) -> float:
    """Zero where there is no keyseat, or no depth is known: nothing is refused on a depth that was assumed."""
    return (keyseat_for(shaft).hub_depth_mm or 0.0) if shaft.kind is ShaftKind.KEYED else 0.0


def depth_not_known(keyseat: HubKeyseat) -> Finding:
    reason = fact("keyseat_depth_not_known", **keyseat.values)
    return not_recorded(Aspect.KEY, reason, required=keyseat.width_mm)


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
    needed_mm = keyseat.hub_depth_mm
    if needed_mm is None:
        return (_same_width(keyseat, offered), depth_not_known(keyseat))
    depth_mm = offered.keyway_depth_mm or _table_depth_mm(offered)
    if depth_mm is None:
        return (_same_width(keyseat, offered), _depth_not_recorded(needed_mm, offered))
    if is_less_deep(depth_mm, needed_mm):
        return (_too_shallow(keyseat, depth_mm, needed_mm, practice),)
    return (_same_width(keyseat, offered),)


def is_less_deep(depth_mm: float, needed_mm: float) -> bool:
    """Whether the hub rides on the key."""
    return round(needed_mm - depth_mm, STORED_DECIMALS) > DEPTH_TOLERANCE_MM


def _same_width(keyseat: HubKeyseat, offered: Sprocket) -> Finding:
    source = fact("key_width_of_standard" if keyseat.standard else "key_width_as_recorded")
    reason = fact("keyway_fits_key", keyway_mm=offered.keyway_width_mm, **keyseat.values)
    figures = compared(keyseat.width_mm, offered.keyway_width_mm, limit=keyseat.width_mm, margin=0.0)
    return Finding(Aspect.KEY, Outcome.OK, (reason,), **figures, sources=(source,))


def _too_shallow(keyseat: HubKeyseat, depth_mm: float, needed_mm: float, practice: Practice) -> Finding:
    return Finding(
        Aspect.KEY,
        Outcome.WORK,
        (fact("keyway_too_shallow", depth_mm=depth_mm, needed_depth_mm=needed_mm, **keyseat.values),),
        **compared(needed_mm, depth_mm, limit=needed_mm, margin=round(depth_mm - needed_mm, 3)),
        sources=(fact("hub_keyway_depths"),),
        work=(practice.times.step(Operation.CUT_KEYSEAT, fact("deepen_keyseat", depth_mm=needed_mm)),),
    )


def _depth_not_recorded(needed_mm: float, offered: Sprocket) -> Finding:
    """Bore and width settle the depth, except where a standard has this width with less depth, or the key needs more."""
    usual_mm = [
        row.hub_depth_mm
        for standard in SYSTEMS_WITH_FULL_HEIGHT_KEYS
        if (row := key_for_shaft(offered.bore_mm or 0.0, standard.value)) is not None
        and row.hub_depth_mm is not None
        and same_nominal(row.width_mm, offered.keyway_width_mm or 0.0)
    ]
    if not usual_mm or not is_less_deep(min(usual_mm), needed_mm):
        return not_required(Aspect.KEY, fact("keyway_depth_not_recorded"))
    reason = fact("keyway_may_be_too_shallow", needed_depth_mm=needed_mm, usual_depth_mm=min(usual_mm))
    return not_recorded(Aspect.KEY, reason, required=needed_mm)


def _table_depth_mm(offered: Sprocket) -> float | None:
    if offered.key_standard is None or offered.bore_mm is None or offered.keyway_width_mm is None:
        return None
    row = key_for_shaft(offered.bore_mm, offered.key_standard.value)
    is_that_key = row is not None and same_nominal(row.width_mm, offered.keyway_width_mm)
    return row.hub_depth_mm if row is not None and is_that_key else None
