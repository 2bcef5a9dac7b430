"""A part that came back because it did not fit: what the records say of it there, and the measurement that settles it."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from django.db import transaction
from django.utils import timezone

from drives.models import Position
from drives.place.verdict import judge_for_place
from drives.substitutes.requirement import place_asked
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.findings import Finding, Verdict
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.models import FitQuestion, Item, MovementKind, PartKind, ReasonCode, Specification, StockEntry
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import RecordRefusal

MEASURE = {
    Aspect.CHAIN: "Measure the tooth width and the diameter over the bottoms of the teeth, on the part and on the chain's mate",
    Aspect.STRANDS: "Count the rows of teeth on the part and the strands of the chain",
    Aspect.TEETH: "Count the teeth of the part and of what came off",
    Aspect.MOUNTING: "Measure the bore of the part and the shaft, both with a micrometer",
    Aspect.KEY: "Measure width and depth of the keyseat in the part, and width and height of the key",
    Aspect.HUB: "Measure hub diameter and length through bore of the part, and the room on the shaft",
    Aspect.ENVELOPE: "Measure outside diameter and length of the part, and the room inside the guard",
}
"""By the aspect of the verdict; the others say how long a part lasts, not whether it goes on."""
DOUBT = {Outcome.NO: 0, Outcome.REVIEW: 1, Outcome.WORK: 2, Outcome.OK: 3}
ORDER_OF_DOUBT = {
    PartKind.SPROCKET: ("bore_mm", "keyway_width_mm", "teeth", "hub_diameter_mm"),
    PartKind.BUSH: ("bush_size", "bore_mm", "keyway_width_mm"),
    PartKind.KEY: ("keyway_width_mm", "key_height_mm", "key_length_mm"),
    PartKind.CHAIN: ("pitch_mm", "inner_width_mm", "roller_diameter_mm", "strands"),
}
"""What is looked at first where no place is known: what most often differs from the record, by judgement."""
BUSHED = ("bush_size", "teeth", "hub_diameter_mm")


def open_questions(entries: Iterable[StockEntry], at: datetime | None = None) -> list[FitQuestion]:
    """A question for each entry of a part that did not fit; to be called in the transaction that booked them."""
    return [open_question(entry, at) for entry in entries if is_misfit(entry)]


def is_misfit(entry: StockEntry) -> bool:
    return (
        entry.kind == MovementKind.RETURN
        and entry.reason_code == ReasonCode.DID_NOT_FIT
        and entry.reverses_id is None
    )


def open_question(entry: StockEntry, at: datetime | None = None) -> FitQuestion:
    """The question of that entry, opened once."""
    standing = FitQuestion.objects.filter(entry=entry).first()
    if standing is not None:
        return standing
    position = _position_of(entry)
    verdict = _verdict(entry.item, position)
    question = FitQuestion.objects.create(
        item=entry.item,
        storeroom=entry.storeroom,
        entry=entry,
        position=position.tag if position else entry.position,
        work_order=entry.work_order,
        measure=_measure(entry.item, position, verdict)[:300],
        verdict={} if verdict is None else _frozen(verdict),
    )
    _tell("opened", question, at or timezone.now())
    return question


def answer(question: FitQuestion, text: str, *, by: str, at: datetime | None = None) -> FitQuestion:
    """Record what was measured, once."""
    now = at or timezone.now()
    if not text.strip():
        raise RecordRefusal("answer", "Say what was found: give answer.")
    with transaction.atomic():
        standing = FitQuestion.objects.select_for_update().get(pk=question.pk)
        if standing.answered_at is not None:
            raise QuestionAnswered(standing)
        standing.answer, standing.answered_at, standing.answered_by_name = text, now, by[:150]
        standing.save(update_fields=["answer", "answered_at", "answered_by_name", "updated_at"])
        _tell("answered", standing, now)
    return standing


class QuestionAnswered(RecordRefusal):
    def __init__(self, question: FitQuestion) -> None:
        super().__init__("answer", f"This was answered by {question.answered_by_name} already.")


def _tell(what: str, question: FitQuestion, at: datetime) -> None:
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
            "measure": question.measure,
            "answer": question.answer or None,
        },
    )


def _position_of(entry: StockEntry) -> Position | None:
    """Where it should have gone: as the return says, else as its issue said."""
    tag = entry.position
    if not tag and entry.work_order:
        issues = StockEntry.objects.issues().not_reversed().of_work_order(entry.work_order)
        issued = issues.of_item(entry.item).exclude(position="").order_by("-pk").first()
        tag = issued.position if issued is not None else ""
    places = Position.objects.with_drive().prefetch_related("drive__positions")
    return places.filter(tag=tag).first() if tag else None


def _verdict(item: Item, position: Position | None) -> Verdict | None:
    part = item.specification
    if position is None or part is None or part.kind != PartKind.SPROCKET:
        return None
    place = place_asked(position)
    return judge_for_place(
        place.required, attributes_of(part), duty=place.duty, practice=current_practice(), bushes=None
    )


def _measure(item: Item, position: Position | None, verdict: Verdict | None) -> str:
    findings = [one for one in verdict.checks if one.aspect in MEASURE] if verdict else []
    if position is not None and findings:
        worst = min(findings, key=_doubt)
        offered = "nothing is" if worst.offered is None else f"{worst.offered} is"
        required = "nothing" if worst.required is None else worst.required
        return f"{MEASURE[worst.aspect]}: {offered} recorded for {item}, {required} for {position.tag}."
    return _most_doubtful(item.specification)


def _doubt(finding: Finding) -> tuple[int, float]:
    """What the records refuse first, then what they do not know, then what fits with the least to spare."""
    margin = finding.margin if finding.margin is not None else float("inf")
    return DOUBT[finding.outcome or Outcome.OK], margin


def _most_doubtful(part: Specification | None) -> str:
    if part is None:
        return "Measure the part: nothing of it is recorded but its number."
    names = ORDER_OF_DOUBT.get(PartKind(part.kind), ())
    if part.kind == PartKind.SPROCKET and (part.bush_size or part.bore_type in ("tapered", "qd")):
        names = BUSHED
    unknown = [name for name in names if getattr(part, name) in (None, "")]
    if unknown:
        return f"Measure {unknown[0]} of the part: it is not recorded."
    if names:
        return f"Measure {names[0]} of the part: {getattr(part, names[0])} is recorded."
    return "Compare the part with its record, attribute by attribute."


def _frozen(verdict: Verdict) -> dict[str, Any]:
    return {
        "grade": verdict.grade.value,
        "checks": [
            {
                "aspect": one.aspect.value,
                "outcome": one.outcome.value if one.outcome else None,
                "required": one.required,
                "offered": one.offered,
                "margin": one.margin,
                "facts": [fact.as_json() for fact in one.facts],
            }
            for one in verdict.checks
        ],
    }
