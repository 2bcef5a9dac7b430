from datetime import timedelta
from typing import Any

import pytest

from drives.models import Inspection, Installation, Plant, RecordedVerdict
from drives.place.verdict import judge_for_place
from drives.substitutes import past_verdicts
from drives.substitutes.false_fits import false_fits
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.models import Item, StockEntry
from tests.api.exchange.files import PLANT, load, load_up_to, sentences

pytestmark = pytest.mark.django_db
HEADER = "position,item,installed_at,removed_at,ended_by,mechanism,running_hours,temporary_until,approved_by,note\n"
PLACE = "WL-EL-01-D1-A,004711"


def test_lives_are_recorded_with_what_was_fitted_then() -> None:
    load_up_to("installations")

    past, present = Installation.objects.filter(position__tag="WL-EL-01-D1-A").order_by("installed_at")
    assert (past.ended_by, past.mechanism, past.work_order, past.age_basis) == (
        "failure",
        "wear",
        "WO-7",
        "calendar",
    )
    assert past.installed_why == "new drive"
    assert (present.removed_at, present.specification) == (
        None,
        present.item.specification if present.item else 0,
    )


def test_the_same_file_again_changes_nothing() -> None:
    load_up_to("inspections")

    assert load("installations").counts["unchanged"] == 3
    assert load("inspections").counts["unchanged"] == 1
    assert (Installation.objects.count(), Inspection.objects.count()) == (3, 1)


def test_a_file_that_tells_the_end_records_the_removal() -> None:
    load_up_to("items")
    load("installations", HEADER + f"{PLACE},2024-02-01T07:30:00Z,,,,,,,first\n")

    ended = HEADER + f"{PLACE},2024-02-01T07:30:00Z,2025-02-01T07:30:00Z,preventive,,,,,second\n"
    result = load("installations", ended)

    unit = Installation.objects.get()
    assert (result.counts["updated"], unit.ended_by, unit.note) == (1, "preventive", "first\nsecond")
    assert load("installations", ended).counts["unchanged"] == 1


def test_an_older_file_does_not_take_the_end_back() -> None:
    load_up_to("items")
    load("installations", HEADER + f"{PLACE},2024-02-01T07:30:00Z,2025-02-01T07:30:00Z,preventive,,,,,\n")

    assert load("installations", HEADER + f"{PLACE},2024-02-01T07:30:00Z,,,,,,,\n").counts["unchanged"] == 1
    assert Installation.objects.get().removed_at is not None


def test_rows_may_stand_in_any_order() -> None:
    load_up_to("items")
    head, *rows = PLANT["installations"].splitlines()

    result = load("installations", "\n".join([head, *reversed(rows)]) + "\n")

    assert (result.counts["created"], result.rejected) == (3, 0)


def test_an_approved_temporary_fit_that_is_over_keeps_its_approval() -> None:
    load_up_to("items")

    load(
        "installations",
        HEADER
        + f"{PLACE},2024-02-01T07:30:00Z,2024-03-01T07:30:00Z,modification,,,2024-03-15,Ines Okafor,\n",
    )

    unit = Installation.objects.get()
    assert (unit.approved_by, str(unit.temporary_until), unit.ended_by) == (
        "Ines Okafor",
        "2024-03-15",
        "modification",
    )


def test_a_temporary_unit_of_the_past_is_recorded_where_another_one_is_fitted_today() -> None:
    load_up_to("items")
    load("installations", HEADER + f"{PLACE},2025-02-01T07:30:00Z,,,,,,,\n")
    past = f"{PLACE},2024-02-01T07:30:00Z,2024-03-01T07:30:00Z,modification,,,2024-03-15,"

    unapproved = load("installations", f"{HEADER}{past},\n")
    result = load("installations", f"{HEADER}{past}Ines Okafor,\n")

    assert [column for _, column, _ in sentences(unapproved)] == ["approved_by"]
    assert (result.counts["created"], Installation.objects.count()) == (1, 2)


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        (
            f"{PLACE},2024-02-01T07:30:00Z,2023-02-01T07:30:00Z,failure,wear,,,,",
            "removed_at",
            "not be before",
        ),
        (f"{PLACE},2024-02-01T07:30:00Z,2025-02-01T07:30:00Z,,,,,,", "ended_by", "Say how it ended"),
        (
            f"{PLACE},2024-02-01T07:30:00Z,,failure,,,,,",
            "ended_by",
            "give the day of removal (removed_at) too",
        ),
        (f"{PLACE},2124-02-01T07:30:00Z,,,,,,,", "installed_at", "future"),
        ("WL-EL-01-D1-X,004711,2024-02-01T07:30:00Z,,,,,,,", "position", "There is no position"),
        (
            f"{PLACE},2024-02-01T07:30:00Z,2025-02-01T07:30:00Z,failure,rust,,,,",
            "mechanism",
            "must be one of",
        ),
        (f"{PLACE},2024-02-01,,,,,,,", "installed_at", "with an offset"),
    ],
)
def test_a_life_that_makes_no_sense_is_told_by_column(row: str, column: str, sentence: str) -> None:
    load_up_to("items")

    ((line, found, said),) = sentences(load("installations", f"{HEADER}{row}\n"))

    assert (line, found) == (2, column)
    assert sentence in said


def test_lives_that_overlap_are_refused_and_nothing_is_recorded() -> None:
    load_up_to("items")
    rows = (
        f"{PLACE},2024-02-01T07:30:00Z,2025-02-01T07:30:00Z,failure,wear,,,,\n"
        f"{PLACE},2024-06-01T07:30:00Z,2025-06-01T07:30:00Z,failure,wear,,,,\n"
    )

    result = load("installations", HEADER + rows)

    assert (result.counts["created"], result.rejected) == (1, 1)
    assert "Another unit was fitted at WL-EL-01-D1-A" in sentences(result)[0][2]
    assert not Installation.objects.exists()


def test_what_has_happened_is_not_rewritten() -> None:
    load_up_to("inspections")

    result = load("installations", PLANT["installations"].replace("failure,wear", "failure,corrosion"))

    assert (result.counts["unchanged"], result.rejected) == (2, 1)
    assert "mechanism is recorded as 'wear'" in sentences(result)[0][2]
    assert (
        "does not change what has happened"
        in sentences(load("inspections", PLANT["inspections"].replace("1.7", "1.8")))[0][2]
    )


def test_an_inspection_says_what_was_seen() -> None:
    load_up_to("items")

    text = "position,at,elongation_percent,hooked_teeth\nWL-EL-01-D1-A,2024-02-01T07:30:00Z,,\n"
    assert "Say what was found" in sentences(load("inspections", text))[0][2]
    assert "20" in sentences(load("inspections", text.replace("Z,,", "Z,35,")))[0][2]


def test_a_rehearsal_records_nothing() -> None:
    load_up_to("items")

    assert load("installations", dry_run=True).counts["created"] == 3
    assert not Installation.objects.exists()


def test_units_keep_the_verdict_of_then_and_equal_questions_are_judged_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    judged = []

    def judge(required: Requirement, part: Sprocket, **more: Any) -> Verdict:
        judged.append(part.teeth)
        return judge_for_place(required, part, **more)

    monkeypatch.setattr(past_verdicts, "judge_for_place", judge)
    load_up_to("items")
    Plant.objects.update(substitute_approval="before_fitting")
    rows = [
        f"{PLACE},20{year}-02-01T07:30:00Z,20{year}-09-01T07:30:00Z,failure,,,,,\n" for year in range(10, 20)
    ]
    other = "WL-EL-01-D1-A,004712,2020-02-01T07:30:00Z,,,,,,,\n"

    assert load("installations", HEADER + "".join(rows) + other).counts["created"] == 11

    # The first with nothing before it, the next nine with its like, the last one.
    assert judged == [17, 17, 38]
    found = RecordedVerdict.objects.order_by("installation__installed_at")
    assert [one.grade for one in found] == ["needs_review"] * 10 + ["unfit"]
    assert [unit.item_id for unit in Installation.objects.filter(awaits_approval=True)] == [
        Item.objects.get(stock_number="004712").pk
    ]


def test_an_imported_issue_counts_among_false_fits_at_the_moment_of_its_issue() -> None:
    load_up_to("movements")

    issue = StockEntry.objects.get(reference="M-3")
    assert issue.recorded_verdict.item == issue.item
    at = issue.occurred_at
    spans = [(at - timedelta(days=1), at), (at, at + timedelta(days=1))]
    counted = [
        false_fits(RecordedVerdict.objects.all(), begin=begin, end=end, most_cases=1) for begin, end in spans
    ]
    assert [one.overall.issued for one in counted] == [0, 1]
    assert load("movements").counts["unchanged"] == 5
    assert RecordedVerdict.objects.count() == 1
