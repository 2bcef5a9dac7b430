"""Hub style against style, and the length through bore against the room for it."""

from dataclasses import dataclass, replace

from inventory.facts import Fact, fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, HubStyle, Operation, Outcome

STYLE_RULES = (fact("hub_style_rules"),)
SAME_LENGTH_MM = 0.5
"""A hub shorter by more moves the chain line enough to be set. Judgement."""


@dataclass(frozen=True)
class _Swap:
    outcome: Outcome
    reason: Fact
    operation: Operation | None = None
    detail: Fact | None = None


_FACE_TO_B = _Swap(Outcome.WORK, fact("hub_c_for_b"), Operation.FACE_HUB, fact("turn_one_hub_off"))
_FACE_TO_A = _Swap(Outcome.WORK, fact("hub_for_plate"), Operation.FACE_HUB, fact("turn_hub_flush"))
_WELD = _Swap(Outcome.REVIEW, fact("hub_to_weld_on"), Operation.WELD_HUB, fact("weld_on_hub"))
_AMBIGUOUS = _Swap(Outcome.REVIEW, fact("hub_style_d_ambiguous"))

_TURNABLE = {HubStyle.B, HubStyle.C}
_SWAPS: dict[tuple[HubStyle, HubStyle], _Swap] = {
    (HubStyle.B, HubStyle.C): _FACE_TO_B,
    (HubStyle.A, HubStyle.B): _FACE_TO_A,
    (HubStyle.A, HubStyle.C): _FACE_TO_A,
    (HubStyle.B, HubStyle.A): _WELD,
    (HubStyle.C, HubStyle.A): _WELD,
    (HubStyle.C, HubStyle.B): _Swap(Outcome.REVIEW, fact("hub_b_for_c")),
    (HubStyle.WELD_ON, HubStyle.A): _WELD,
    (HubStyle.A, HubStyle.WELD_ON): _Swap(Outcome.REVIEW, fact("weld_on_rim_for_plate")),
    (HubStyle.B, HubStyle.WELD_ON): _WELD,
    (HubStyle.C, HubStyle.WELD_ON): _WELD,
}


def _swap(required: HubStyle, offered: HubStyle) -> _Swap:
    if required is offered:
        return (
            _Swap(Outcome.REVIEW, fact("flange_not_recorded")) if offered is HubStyle.FLANGED else _AMBIGUOUS
        )
    if (required, offered) in _SWAPS:
        return _SWAPS[(required, offered)]
    if HubStyle.FLANGED in (required, offered):
        return _Swap(Outcome.NO, fact("flanged_for_other_style"))
    if HubStyle.D in (required, offered):
        return _AMBIGUOUS
    if required is HubStyle.SPLIT:
        return _Swap(Outcome.REVIEW, fact("solid_hub_for_split")) if offered in _TURNABLE else _WELD
    if offered is HubStyle.SPLIT and required in _TURNABLE:
        return _Swap(Outcome.OK, fact("split_hub_for_solid"))
    if offered is HubStyle.SPLIT:
        return _Swap(Outcome.NO, fact("split_hub_for_plate"))
    return _Swap(Outcome.REVIEW, fact("hub_for_weld_on_rim"))


def check_hub(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    return (_style(required, offered, practice), *_length(required, offered, practice))


def _style(required: Requirement, offered: Sprocket, practice: Practice) -> Finding:
    wanted, given = required.hub_style, offered.hub_style
    if wanted is None:
        return not_required(Aspect.HUB, fact("position_hub_style_not_recorded"))
    if given is None:
        reason = fact("candidate_hub_style_not_recorded", required_style=wanted.value)
        return not_recorded(Aspect.HUB, reason, required=wanted.value)
    swap = _swap(wanted, given)
    if wanted is given and _is_settled_by_style(required, offered):
        swap = _Swap(Outcome.OK, fact("hub_style_equal", hub_style=given.value))
    work = (practice.times.step(swap.operation, swap.detail),) if swap.operation and swap.detail else ()
    figures = compared(wanted.value, given.value)
    return Finding(Aspect.HUB, swap.outcome, (swap.reason,), **figures, sources=STYLE_RULES, work=work)


def _is_settled_by_style(required: Requirement, offered: Sprocket) -> bool:
    """Equal letters are enough, except for bolted rims, and for D, which names two things."""
    if offered.hub_style is HubStyle.FLANGED:
        return offered == required.interface
    if offered.hub_style is HubStyle.D:
        old = required.interface
        return old is not None and old.bore_type is offered.bore_type and offered.bore_type is not None
    return True


def _length(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    room_mm, length_mm = required.envelope.length_through_bore_mm, offered.length_through_bore_mm
    if room_mm is None:
        return ()
    if length_mm is None:
        return (not_recorded(Aspect.HUB, fact("hub_length_not_recorded", room_mm=room_mm), required=room_mm),)
    if practice.thresholds.is_within_room(length_mm, room_mm):
        return (_fits(room_mm, length_mm),)
    return (_too_long(required, offered, practice, room_mm, length_mm),)


def _fits(room_mm: float, length_mm: float) -> Finding:
    shorter_mm = round(room_mm - length_mm, 4)
    reason = fact("hub_length_fits", length_mm=length_mm, room_mm=room_mm)
    if shorter_mm > SAME_LENGTH_MM:
        reason = fact("hub_shorter", length_mm=length_mm, room_mm=room_mm, difference_mm=shorter_mm)
    return _against_room(Outcome.OK, (reason,), room_mm=room_mm, length_mm=length_mm)


def _too_long(
    required: Requirement, offered: Sprocket, practice: Practice, room_mm: float, length_mm: float
) -> Finding:
    """Faced where there is a hub to face; else refused, or for review where the room was never measured."""
    excess_mm = round(length_mm - room_mm, 4)
    sizes = {"length_mm": length_mm, "room_mm": room_mm}
    if offered.hub_style is None and not is_bushed(offered):
        reason = fact("hub_too_long_style_not_recorded", **sizes)
        return not_recorded(Aspect.HUB, reason, required=room_mm, offered=length_mm)
    if _can_be_faced(offered, room_mm):
        reason = fact("hub_to_face", **sizes, excess_mm=excess_mm)
        step = practice.times.step(Operation.FACE_HUB, fact("face_hub", excess_mm=excess_mm))
        finding = _against_room(Outcome.WORK, (reason, *copied_room(required)), **sizes)
        return replace(finding, sources=STYLE_RULES, work=(step,))
    reason = fact("hub_too_long", **sizes, excess_mm=excess_mm)
    if is_bushed(offered):
        reason = fact("bushed_hub_too_long", **sizes, excess_mm=excess_mm)
    outcome = Outcome.NO if required.envelope.is_measured else Outcome.REVIEW
    return _against_room(outcome, (reason, *copied_room(required)), **sizes)


def copied_room(required: Requirement) -> tuple[Fact, ...]:
    """The old part's size is no room: there may be more."""
    return () if required.envelope.is_measured else (fact("room_copied_from_old_part"),)


def _can_be_faced(offered: Sprocket, room_mm: float) -> bool:
    return offered.hub_style in _TURNABLE and not is_bushed(offered) and room_mm >= _rim_width_mm(offered)


def _against_room(outcome: Outcome, facts: tuple[Fact, ...], *, room_mm: float, length_mm: float) -> Finding:
    figures = compared(room_mm, length_mm, limit=room_mm, margin=round(room_mm - length_mm, 3))
    return Finding(Aspect.HUB, outcome, facts, **figures, sources=(fact("room_as_recorded"),))


def _rim_width_mm(offered: Sprocket) -> float:
    rows = offered.strands or 1
    if offered.tooth_width_mm is not None and rows == 1:
        return offered.tooth_width_mm
    if offered.chain is None:
        return 0.0
    spacing_mm = (rows - 1) * (offered.chain.transverse_pitch_mm or 0.0)
    return spacing_mm + offered.chain.standard_tooth_width_mm(rows)
