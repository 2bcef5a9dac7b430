"""From four untidy spreadsheets of a plant to the first right answer, counting the questions."""

import io
from dataclasses import dataclass

import pytest

from api.exchange.mapping.importing import import_mapped, mapped_of_source
from api.exchange.mapping.mapped_file import map_file
from api.exchange.mapping.remembered import answers_of, remember, remembered
from api.wording.sentences import sentence
from drives.models import Drive, Position
from inventory.models import Item
from tests.api.records import API
from tests.factories import PlantFactory, StoreroomFactory
from tests.untidy_plant import DRIVES, FILES, ITEMS, KNOWN

pytestmark = [pytest.mark.django_db, pytest.mark.sqlite]


@dataclass(frozen=True)
class Step:
    """One file as one kind, with what a person answers."""

    file: str
    kind: str
    source: str
    answers: dict[str, str]


def side(name: str, other: str) -> dict[str, str]:
    return {
        "heading:Machine name": "",
        f"heading:{name} teeth": "teeth",
        f"heading:{other} teeth": "",
        f"heading:Shaft {name.lower()}": "shaft_diameter_mm",
        f"heading:Shaft {other.lower()}": "",
        f"heading:Key {name.lower()}": "key_width_mm",
        f"heading:Key {other.lower()}": "",
        "missing:tag": f"{{Drive No}}-{name.upper()}",
        "missing:role": name.lower(),
    }


STEPS = (
    Step("Chain drives.csv", "areas", "drives",
         {"heading:Machine name": "", "missing:plant": "AUW", "missing:code": "{Section}", "missing:name": "{Section}"}),
    Step("Chain drives.csv", "equipment", "drives", {"missing:plant": "AUW"}),
    Step("Chain drives.csv", "drives", "drives", {"heading:Machine name": "name"}),
    Step("Chain drives.csv", "positions", "driver", side("Driver", "Driven")),
    Step("Chain drives.csv", "positions", "driven", side("Driven", "Driver")),
    Step("Ersatzteilliste.xlsx", "items", "parts", {"word:material:Stahl C45": "carbon_steel"}),
    Step("Lagerbestand.csv", "bins", "stock", {"missing:storeroom": "MAIN"}),
    Step("Lagerbestand.csv", "movements", "stock",
         {"heading:Gezählt am": "occurred_at", "missing:reference": "{@content}", "missing:kind": "receipt",
          "missing:storeroom": "MAIN"}),
    Step("Sprocket history.xlsx", "installations", "history",
         {"missing:position": "{Drive}-DRIVER"}),
)  # fmt: skip
QUESTIONS = 30


def test_four_untidy_spreadsheets_lead_to_the_first_right_answer(as_manager) -> None:
    room = StoreroomFactory(code="MAIN", timezone="Europe/Vienna")
    PlantFactory(code="AUW", storeroom=room, timezone="Europe/Vienna")
    files = {name: io.BytesIO(make()) for name, make in FILES.items()}
    asked = 0
    for step in STEPS:
        first = mapped_of_source(files[step.file], kind=step.kind, source=step.source)
        asked += len(first.questions)
        assert {one.key for one in first.questions} <= step.answers.keys() | {"missing:name"}, step
        known = remembered(step.source, step.kind).with_answers(step.answers)
        mapped = map_file(files[step.file], kind=step.kind, remembered=known)
        result = import_mapped(mapped, by="marta")
        faults = [
            (row.line, error.column, sentence(error.fact))
            for row in result.row_results
            for error in row.errors
        ]
        assert result.is_accepted, (step.kind, [sentence(one) for one in result.problems], faults[:5])
        remember(step.source, step.kind, answers_of(mapped, step.answers))
    assert asked == QUESTIONS
    assert Drive.objects.filter(tag__startswith="KC-").count() == DRIVES
    assert Position.objects.filter(drive__tag__startswith="KC-").count() == 2 * DRIVES
    assert Item.objects.filter(stock_number__regex="^[KP]").count() == ITEMS

    answer = as_manager.get(f"{API}positions/{KNOWN}-DRIVER/substitutes/").json()
    # 12B-1, 19 teeth, bore 35 with a keyway for 10 x 8: the part of that drive, found by hand in the lists.
    own = next(row for row in answer["results"] if row["item"]["stock_number"] == "K-0129")
    assert own["verdict"]["grade"] == answer["results"][0]["verdict"]["grade"] != "unfit"
    aspects = {check["aspect"]: check["outcome"] for check in own["verdict"]["checks"]}
    assert [aspects[name] for name in ("chain", "strands", "teeth")] == ["ok"] * 3

    stock = next(step for step in STEPS if step.kind == "movements")
    again = mapped_of_source(files[stock.file], kind=stock.kind, source=stock.source)
    assert not again.questions
    assert import_mapped(again, by="marta").counts == {"unchanged": 300}
