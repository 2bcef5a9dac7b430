"""Questions about a part that came back because it did not fit: what was recorded, and the measurement that settles it."""

import re
from collections.abc import Iterable
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from django.utils import timezone

from drives.models import Position
from drives.substitutes.fitting_verdict import check_as_json
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
COUNTED = frozenset({Aspect.TEETH, Aspect.STRANDS})
"""Nobody mistakes these when nothing else is wrong: where all checks are ok, what has a size is measured first."""
WORDS_OF_ASPECTS = (
    (Aspect.KEY, ("key", "slot", "passfeder")),
    (Aspect.MOUNTING, ("bore", "shaft", "bush", "spigot", "taper", "hex", "bohrung", "welle", "buchse")),
    (Aspect.TEETH, ("teeth", "tooth", "zähne", "zahn")),
    (Aspect.STRANDS, ("strand", "row", "simplex", "duplex", "triplex", "reihe")),
    (Aspect.HUB, ("hub", "collar", "boss", "shoulder", "length", "nabe", "länge")),
    (Aspect.ENVELOPE, ("guard", "cover", "housing", "room", "outside", "schutz", "gehäuse", "platz")),
    (Aspect.CHAIN, ("chain", "pitch", "roller", "rim", "plate", "kette", "teilung", "rolle")),
)
"""Beginnings of words, and the aspect that each names; the first that the reason of a return names is measured."""
ATTRIBUTES_OF_ASPECTS = {
    Aspect.MOUNTING: ("bore_mm", "bush_size"),
    Aspect.KEY: ("keyway_width_mm",),
    Aspect.TEETH: ("teeth",),
    Aspect.STRANDS: ("strands",),
    Aspect.HUB: ("length_through_bore_mm", "hub_diameter_mm"),
    Aspect.ENVELOPE: ("outside_diameter_mm",),
    Aspect.CHAIN: ("tooth_width_mm", "pitch_mm"),
}
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
    issue = _issue_of(entry)
    tag = entry.position or (issue.position if issue else "")
    position = positions_with_requirements().filter(tag=tag).first() if tag else None
    verdict = _verdict(entry.item, position)
    measure = _measurement(entry, position, verdict)
    question = FitQuestion.objects.create(
        item=entry.item,
        storeroom=entry.storeroom,
        entry=entry,
        issue=issue,
        aspect=_aspect_of(measure),
        position=position.tag if position else entry.position,
        work_order=entry.work_order,
        measure_fact=measure.as_json(),
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


def _issue_of(entry: StockEntry) -> StockEntry | None:
    """The latest issue of the part for the work order of the return, else for its position."""
    issues = StockEntry.objects.issues().not_reversed().of_item(entry.item).order_by("-pk")
    if entry.work_order:
        found: StockEntry | None = issues.filter(work_order=entry.work_order).first()
        return found
    return issues.filter(position=entry.position).first() if entry.position else None


def _aspect_of(measure: Fact) -> str:
    """What is doubted: by the measurement, or by the attribute where no position is known."""
    by_code = {code: aspect.value for aspect, code in MEASUREMENTS.items()}
    by_attribute = {name: aspect.value for aspect, names in ATTRIBUTES_OF_ASPECTS.items() for name in names}
    return by_code.get(measure.code) or by_attribute.get(str(measure.values.get("attribute", "")), "")


def _verdict(item: Item, position: Position | None) -> Verdict | None:
    part = item.specification
    if position is None or part is None or part.kind != PartKind.SPROCKET:
        return None
    return position_requirement(position).verdict_of(part, item)


def _measurement(entry: StockEntry, position: Position | None, verdict: Verdict | None) -> Fact:
    item, named = entry.item, named_aspect(entry.reason)
    findings = [one for one in verdict.checks if one.aspect in MEASUREMENTS] if verdict else []
    if position is None or not findings:
        return _most_doubtful(item.specification, named)
    doubted = min(findings, key=lambda one: (one.aspect is not named, *_doubt(one)))
    aspect = named or doubted.aspect
    # What the reason names need not be checked at this position: then nothing is recorded beside it.
    compared = doubted if doubted.aspect is aspect else None
    return fact(
        MEASUREMENTS[aspect],
        item=item.stock_number,
        offered=compared and compared.offered,
        position=position.tag,
        required=compared and compared.required,
    )


def named_aspect(reason: str) -> Aspect | None:
    """The aspect that the words of the reason name."""
    words = re.findall(r"\w+", reason.casefold())
    named = (
        aspect for word in words for aspect, beginnings in WORDS_OF_ASPECTS if word.startswith(beginnings)
    )
    return next(named, None)


def _doubt(finding: Finding) -> tuple[int, bool, float]:
    """What the records refuse first, then what they do not know, then what fits with the least to spare."""
    outcome = finding.outcome or Outcome.OK
    margin = finding.margin if finding.margin is not None else float("inf")
    return -OUTCOME_RANK[outcome], outcome is Outcome.OK and finding.aspect in COUNTED, margin


def _most_doubtful(part: Specification | None, named: Aspect | None) -> Fact:
    if part is None:
        return fact("measure_whole_part")
    names = ORDER_OF_DOUBT.get(PartKind(part.kind), ())
    is_bushed = bool(part.bush_size) or part.bore_type in ("tapered", "qd")
    if part.kind == PartKind.SPROCKET and is_bushed:
        names = ORDER_OF_DOUBT_BUSHED
    if named is not None:
        own = ATTRIBUTES_OF_ASPECTS[named][:: -1 if is_bushed else 1]
        names = tuple(name for name in own if part.kind == PartKind.SPROCKET or name in names)[:1] or names
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
    return {"grade": verdict.grade.value, "checks": [check_as_json(one) for one in verdict.checks]}
