"""The sentence for a fact, in the reader's language: the one door to every sentence that is made from a code."""

from collections.abc import Iterable

from api.wording import (
    cautions,
    drive_advice,
    finding_sources,
    findings_chain,
    findings_hub,
    findings_material,
    findings_mounting,
    findings_place,
    reliability,
    stocking,
    tooth_form,
    track_record,
    work_steps,
)
from api.wording.figures import Sentence, shown
from inventory.facts import Fact

ROOMS = (
    cautions,
    drive_advice,
    finding_sources,
    findings_chain,
    findings_hub,
    findings_material,
    findings_mounting,
    findings_place,
    reliability,
    stocking,
    tooth_form,
    track_record,
    work_steps,
)
SENTENCES: dict[str, Sentence] = {code: text for room in ROOMS for code, text in room.SENTENCES.items()}


def sentence(fact: Fact) -> str:
    template = SENTENCES[fact.code]
    values = {name: shown(value, sentence) for name, value in fact.items}
    return template(values) if callable(template) else str(template).format_map(values)


def sentences(facts: Iterable[Fact]) -> str:
    """Each sentence once, in order."""
    return " ".join(dict.fromkeys(sentence(fact) for fact in facts))
