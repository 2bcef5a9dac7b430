"""An unknown sprocket on the counter: one question after another, the answers kept in the address."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import render
from django.utils.formats import number_format
from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from api.answers.core_input import core_object
from api.answers.identify import ReadingsSerializer, identify_answer
from api.screens.measuring_sketch import sketch_of
from api.wording.sentences import sentence
from api.wording.separators import localized
from inventory.catalogue.rim_stock import BoreMatch, StockedRim
from inventory.facts import Refusal
from inventory.identification.identify import RimCandidate
from inventory.identification.readings import MEASUREMENTS, Readings
from inventory.standards.sizes import inches_to_mm

SHOWN_CANDIDATES, LEAST_SHOWN = 6, 0.01
SURE = 0.95
"""From this share on, where the readings themselves carry it, the bore is asked for first, to find the piece on the shelf."""


@dataclass(frozen=True)
class MeasuringQuestion:
    """`unit` is empty for a count; `choices` are offered in place of a box."""

    name: str
    label: str | Promise
    help: str | Promise
    unit: str = "mm"
    choices: tuple[tuple[str, str | Promise], ...] = ()

    @property
    def can_skip(self) -> bool:
        return self.name not in ("teeth", "worn")


WORN = (("true", gettext_lazy("Yes")), ("false", gettext_lazy("No")), ("", gettext_lazy("Not sure")))
QUESTIONS = {
    one.name: one
    for one in (
        MeasuringQuestion(
            "teeth",
            gettext_lazy("How many teeth has it?"),
            gettext_lazy("Mark the first tooth and count twice: one tooth more or less is another sprocket."),
            unit="",
        ),
        MeasuringQuestion(
            "strands",
            gettext_lazy("How many rows of teeth?"),
            gettext_lazy("One for a single chain, two for a duplex chain."),
            unit="",
        ),
        MeasuringQuestion(
            "worn",
            gettext_lazy("Are the teeth worn?"),
            gettext_lazy("Hooked, pointed or polished deep in the gaps."),
            unit="",
            choices=WORN,
        ),
        MeasuringQuestion(
            "outside_diameter_mm",
            gettext_lazy("Outside diameter"),
            gettext_lazy(
                "Over the tips. With an odd number of teeth no tip is opposite a tip: measure from the wall of the bore to a tip, "
                "add half the bore and double it."
            ),
        ),
        MeasuringQuestion(
            "caliper_diameter_mm",
            gettext_lazy("Diameter over the bottoms of the gaps"),
            gettext_lazy(
                "Caliper in the two gaps that are most nearly opposite. Clean the gaps before you measure."
            ),
        ),
        MeasuringQuestion(
            "tooth_width_mm",
            gettext_lazy("Width of one tooth"),
            gettext_lazy("Along the axis, low on the flank and not at the chamfered tip."),
        ),
        MeasuringQuestion(
            "overall_width_mm",
            gettext_lazy("Width over all rows of teeth"),
            gettext_lazy("From the outer face of the first row to that of the last, without the hub."),
        ),
        MeasuringQuestion(
            "chord_mm",
            gettext_lazy("Distance between two gaps"),
            gettext_lazy("Straight from the centre of one gap to that of another."),
        ),
        MeasuringQuestion(
            "hub_diameter_mm", gettext_lazy("Hub diameter"), gettext_lazy("Over the outside of the hub.")
        ),
        MeasuringQuestion(
            "bore_mm",
            gettext_lazy("Bore"),
            gettext_lazy("To find the piece on the shelf. At both ends, where it may be tapered."),
        ),
    )
}
FIRST_QUESTIONS = ("teeth", "strands", "worn")
CHORD = frozenset({"chord_mm", "chord_gaps"})
"""One reading in two values."""
BORE_LABELS = {
    BoreMatch.SAME: gettext_lazy("same bore"),
    BoreMatch.CAN_BE_BORED: gettext_lazy("can be bored"),
    BoreMatch.TAKES_BUSH: gettext_lazy("takes a bush"),
    BoreMatch.OTHER: gettext_lazy("another bore"),
    BoreMatch.NOT_KNOWN: gettext_lazy("bore not compared"),
}


@dataclass(frozen=True)
class Answered:
    """Answers as they were typed, by question; `skipped` were passed over."""

    texts: Mapping[str, str]
    skipped: tuple[str, ...] = ()

    @classmethod
    def of(cls, query: QueryDict) -> "Answered":
        known = (*QUESTIONS, "chord_gaps")
        texts = {name: str(query[name]).strip()[:20] for name in known if name in query}
        texts = {name: text for name, text in texts.items() if text or name == "worn"}
        return cls(texts, tuple(name for name in dict.fromkeys(query.getlist("skip")) if name in QUESTIONS))

    def without(self, name: str) -> str:
        """The address that asks this question again."""
        kept = [(key, text) for key, text in self.texts.items() if key != name]
        if name == "chord_mm":
            kept = [(key, text) for key, text in kept if key != "chord_gaps"]
        return "?" + urlencode([*kept, *(("skip", one) for one in self.skipped if one != name)])

    def is_done(self, name: str) -> bool:
        return name in self.texts or name in self.skipped

    def body(self) -> dict[str, Any]:
        return {name: typed_value(name, text) for name, text in self.texts.items() if text}


def typed_value(name: str, text: str) -> Any:
    """A number, with decimal comma or point, or a size in inches that says so; other text is refused where it is read."""
    if name == "worn":
        return {"true": True, "false": False}.get(text, text)
    plain = text.replace(",", ".").removesuffix("mm").strip()
    try:
        if name.endswith("_mm") and not plain.replace(".", "", 1).isdigit():
            return float(inches_to_mm(text))
        return float(plain) if "." in plain else int(plain)
    except ValueError:
        return text


@dataclass(frozen=True)
class ShownAnswer:
    label: str | Promise
    text: str
    address: str


@dataclass(frozen=True)
class ShownRim:
    """A candidate as the page shows it."""

    candidate: RimCandidate

    @property
    def share(self) -> str:
        return share_text(self.candidate.probability)

    @property
    def name(self) -> str:
        return self.candidate.rim.name

    @property
    def same_rim(self) -> str:
        return ", ".join(name for name in self.candidate.rim.designations if name != self.name)

    @property
    def asme(self) -> str:
        number = self.candidate.rim.chain.asme_designation
        return number if number and number != self.name else ""


@dataclass(frozen=True)
class ShownStock:
    """An item as the page shows it, with the name of its candidate."""

    item: StockedRim

    @property
    def bore_label(self) -> str:
        return str(BORE_LABELS[self.item.bore_match])


def share_text(share: float) -> str:
    return _("below 1 %") if share < LEAST_SHOWN else localized(f"{100 * share:.0f} %")


@require_safe
@login_required
def identify(request: HttpRequest) -> HttpResponse:
    answered = Answered.of(request.GET)
    readings, found, faults = _identified(answered)
    wrong = faults[0][0] if faults else ""
    question = QUESTIONS[wrong] if wrong in QUESTIONS else _next_question(answered, found)
    if question is not None and question.name == "chord_mm" and readings is not None:
        gaps = readings.gaps_over_chord
        help = _("Straight from the centre of a gap to that of the gap {gaps} further.").format(gaps=gaps)
        question = replace(question, help=help)
    return render(request, "screens/identify.html", _context(answered, readings, found, question, faults))


def _identified(
    answered: Answered,
) -> tuple[Readings | None, Mapping[str, Any] | None, list[tuple[str, str]]]:
    """The readings that are sound, what they say, and what is wrong with the others; nothing until the teeth are counted."""
    given, faults = answered.body(), list[tuple[str, str]]()
    while "teeth" in given:
        body = ReadingsSerializer(data=given)
        if not body.is_valid():
            found = [(name, f"{_label(name)}: {texts[0]}") for name, texts in body.errors.items()]
        else:
            try:
                readings = core_object(Readings, body.validated_data)
                return readings, identify_answer(readings, plant_prior=True), faults
            except Refusal as refusal:
                found = [(refusal.field, sentence(refusal.fact))]
        faults += found
        wrong = {name for name, _said in found}
        wrong |= CHORD if wrong & CHORD else set()
        if not wrong & given.keys():
            break
        given = {name: value for name, value in given.items() if name not in wrong}
    return None, None, faults


def _label(name: str) -> str:
    return str(QUESTIONS[name].label) if name in QUESTIONS else name


def _next_question(answered: Answered, found: Mapping[str, Any] | None) -> MeasuringQuestion | None:
    """Counts first, then what is expected to tell most, at last the bore."""
    for name in FIRST_QUESTIONS:
        if not answered.is_done(name):
            return QUESTIONS[name]
    if found is None:
        return QUESTIONS["teeth"]
    rests_on_plant = any(note.code == "rests_on_plant" for note in found["notes"])
    is_sure = bool(found["candidates"]) and found["candidates"][0].probability >= SURE and not rests_on_plant
    proposed = [one.measurement for one in found["measure_next"] if one.measurement in MEASUREMENTS]
    wanted = ["bore_mm", *proposed] if is_sure else [*proposed, "bore_mm"]
    return next((QUESTIONS[name] for name in wanted if not answered.is_done(name)), None)


def _context(
    answered: Answered,
    readings: Readings | None,
    found: Mapping[str, Any] | None,
    question: MeasuringQuestion | None,
    faults: list[tuple[str, str]],
) -> dict[str, Any]:
    asked = question.name if question else ""
    hidden = [(name, text) for name, text in answered.texts.items() if name != asked]
    hidden += [("skip", name) for name in answered.skipped if name != asked]
    if asked == "chord_mm" and readings is not None:
        hidden.append(("chord_gaps", str(readings.gaps_over_chord)))
    has_measured = readings is not None and any(True for _ in readings.taken())
    shown = found if has_measured else None
    return {
        "question": question,
        "sketch": sketch_of(asked, readings.teeth, readings.strands or 1) if readings is not None else None,
        "faults": faults,
        "typed": answered.texts.get(asked, ""),
        "hidden": hidden,
        "answers": _shown_answers(answered),
        "found": shown,
        "rims": _shown_rims(shown["candidates"]) if shown else [],
        "unknown": share_text(shown["unknown"]) if shown else "",
        "stock": [ShownStock(item) for item in shown["items"]] if shown else [],
        "alike": _alike(shown) if shown else [],
    }


def _shown_answers(answered: Answered) -> list[ShownAnswer]:
    words = dict(WORN)
    shown = [
        ShownAnswer(
            QUESTIONS[name].label,
            str(words.get(text, text)) if name == "worn" else _with_unit(name, text),
            answered.without(name),
        )
        for name, text in answered.texts.items()
        if name in QUESTIONS
    ]
    passed = [
        ShownAnswer(QUESTIONS[name].label, _("not measured"), answered.without(name))
        for name in answered.skipped
        if name not in answered.texts
    ]
    return shown + passed


def _with_unit(name: str, text: str) -> str:
    """As it was typed, a plain number with the reader's sign of decimals; what names no unit is in that of the question."""
    shown = number_format(text) if text.replace(".", "", 1).isdecimal() else text
    return f"{shown} {QUESTIONS[name].unit}".strip() if text[-1:].isdigit() else text


def _shown_rims(candidates: tuple[RimCandidate, ...]) -> list[ShownRim]:
    return [ShownRim(one) for one in candidates[:SHOWN_CANDIDATES] if one.probability >= LEAST_SHOWN]


def _alike(found: Mapping[str, Any]) -> list[str]:
    """Names of candidates that nothing left to measure tells apart."""
    groups = [[found["candidates"][place] for place in group] for group in found["not_told_apart"]]
    return [", ".join(f"{one.rim.name} × {one.rim.strands}" for one in group) for group in groups]
