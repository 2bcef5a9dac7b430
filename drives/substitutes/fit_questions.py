"""Questions about a part that came back because it did not fit: what was recorded, and the measurement that settles it."""

from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from drives.models import Position
from drives.substitutes.position_requirement import position_requirement, positions_with_requirements
from inventory.facts import Fact, Refusal, fact
from inventory.interchange.findings import Finding, Verdict
from inventory.interchange.vocabulary import OUTCOME_RANK, Aspect, Outcome
from inventory.models import FitQuestion, Item, MovementKind, PartKind, ReasonCode, Specification, StockEntry
from inventory.plumbing.events import record

MEASUREMENTS = {
    Aspect.CHAIN: "measure_tooth_form",
    Aspect.STRANDS: "count_strands",
    Aspect.TEETH: "count_teeth",
    Aspect.MOUNTING: "measure_bore_and_shaft",
    Aspect.KEY: "measure_keyseat_and_key",
    Aspect.HUB: "measure_hub",
    Aspect.ENVELOPE: "measure_room_in_guard",
}
"""By the aspect of the verdict; the others say how long a part lasts, not whether it can be fitted."""
ORDER_OF_DOUBT = {
    PartKind.SPROCKET: ("bore_mm", "keyway_width_mm", "teeth", "hub_diameter_mm"),
    PartKind.BUSH: ("bush_size", "bore_mm", "keyway_width_mm"),
    PartKind.KEY: ("keyway_width_mm", "key_height_mm", "key_length_mm"),
    PartKind.CHAIN: ("pitch_mm", "inner_width_mm", "roller_diameter_mm", "strands"),
}
"""What is measured first where no position is known: what most often differs from the record, by judgement."""
ORDER_OF_DOUBT_BUSHED = ("bush_size", "teeth", "hub_diameter_mm")


def open_questions(entries: Iterable[StockEntry]) -> list[FitQuestion]:
    """A question for each entry of a part that did not fit; call it in the transaction that booked them."""
    return [
        open_question(entry)
        for entry in entries
        if entry.kind == MovementKind.RETURN
        and entry.reason_code == ReasonCode.DID_NOT_FIT
        and entry.reverses_id is None
    ]


def open_question(entry: StockEntry) -> FitQuestion:
    """The question of that entry, opened once."""
    known = FitQuestion.objects.filter(entry=entry).first()
    if known is not None:
        return known
    position = _position_of(entry)
    verdict = _verdict(entry.item, position)
    question = FitQuestion.objects.create(
        item=entry.item,
        storeroom=entry.storeroom,
        entry=entry,
        position=position.tag if position else entry.position,
        work_order=entry.work_order,
        measure_fact=_measurement(entry.item, position, verdict).as_json(),
        verdict={} if verdict is None else _as_json(verdict),
    )
    _record_event("opened", question, timezone.now())
    return question


def answer(question: FitQuestion, text: str, *, by: str) -> FitQuestion:
    """Record what was measured, once."""
    now = timezone.now()
    if not text.strip():
        raise Refusal(fact("fit_answer_required"), field="answer")
    with transaction.atomic():
        locked = FitQuestion.objects.select_for_update().get(pk=question.pk)
        if locked.answered_at is not None:
            raise Refusal(fact("fit_question_already_answered", answered_by=locked.answered_by_name))
        locked.answer, locked.answered_at, locked.answered_by_name = text, now, by[:150]
        locked.save(update_fields=["answer", "answered_at", "answered_by_name", "updated_at"])
        _record_event("answered", locked, now)
    return locked


def _record_event(what: str, question: FitQuestion, at: datetime) -> None:
    record(
        f"fit_question.{what}",
        aggregate=f"fit_question/{question.pk}",
        occurred_at=at,
        storeroom=question.storeroom.code,
        data={
            "fit_question": question.pk,
            "item": question.item.stock_number,
            "position": question.position or None,
            "work_order": question.work_order or None,
            "measure": question.measure_fact or question.measure,
            "answer": question.answer or None,
        },
    )


def _position_of(entry: StockEntry) -> Position | None:
    """Where it should have been fitted: as the return says, else as its issue said."""
    tag = entry.position
    if not tag and entry.work_order:
        issues = StockEntry.objects.issues().not_reversed().of_work_order(entry.work_order)
        issued = issues.of_item(entry.item).exclude(position="").order_by("-pk").first()
        tag = issued.position if issued is not None else ""
    return positions_with_requirements().filter(tag=tag).first() if tag else None


def _verdict(item: Item, position: Position | None) -> Verdict | None:
    part = item.specification
    if position is None or part is None or part.kind != PartKind.SPROCKET:
        return None
    return position_requirement(position).verdict_of(part)


def _measurement(item: Item, position: Position | None, verdict: Verdict | None) -> Fact:
    findings = [one for one in verdict.checks if one.aspect in MEASUREMENTS] if verdict else []
    if position is None or not findings:
        return _most_doubtful(item.specification)
    doubted = min(findings, key=_doubt)
    return fact(
        MEASUREMENTS[doubted.aspect],
        item=item.stock_number,
        offered=doubted.offered,
        position=position.tag,
        required=doubted.required,
    )


def _doubt(finding: Finding) -> tuple[int, float]:
    """What the records refuse first, then what they do not know, then what fits with the least to spare."""
    margin = finding.margin if finding.margin is not None else float("inf")
    return -OUTCOME_RANK[finding.outcome or Outcome.OK], margin


def _most_doubtful(part: Specification | None) -> Fact:
    if part is None:
        return fact("measure_whole_part")
    names = ORDER_OF_DOUBT.get(PartKind(part.kind), ())
    if part.kind == PartKind.SPROCKET and (part.bush_size or part.bore_type in ("tapered", "qd")):
        names = ORDER_OF_DOUBT_BUSHED
    unknown = [name for name in names if getattr(part, name) in (None, "")]
    if unknown:
        return fact("measure_attribute_not_recorded", attribute=unknown[0])
    if names:
        recorded = getattr(part, names[0])
        return fact(
            "measure_recorded_attribute",
            attribute=names[0],
            recorded=float(recorded) if isinstance(recorded, Decimal) else recorded,
        )
    return fact("compare_with_record")


def _as_json(verdict: Verdict) -> dict[str, Any]:
    return {
        "grade": verdict.grade.value,
        "checks": [
            {
                "aspect": one.aspect.value,
                "outcome": one.outcome.value if one.outcome else None,
                "required": one.required,
                "offered": one.offered,
                "margin": one.margin,
                "facts": [found.as_json() for found in one.facts],
            }
            for one in verdict.checks
        ],
    }
