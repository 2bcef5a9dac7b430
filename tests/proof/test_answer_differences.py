import copy
import json
from pathlib import Path
from typing import Any

import pytest

from tests.proof.answer_differences import Exceptions, compare, read_answers

CHECK = {
    "aspect": "hub",
    "outcome": "work",
    "limit": 15.75,
    "required": None,
    "explanation": "The hub is too wide.",
    "source": "judgement of this project",
}
ANSWER = {
    "status": 200,
    "body": {
        "grade": "with_work",
        "judged": 3,
        "source": "purchasing",
        "checks": [CHECK],
        "notes": ["Nothing is kept."],
        "cautions": [],
        "request_id": "a1",
    },
}


def places(new: Any, **exceptions: Any) -> list[str]:
    found = compare({"one": ANSWER}, {"one": new}, Exceptions(**exceptions))
    return sorted(found.found)


def changed(path: str, value: Any) -> Any:
    answer = copy.deepcopy(ANSWER)
    *outer, last = [int(part) if part.isdigit() else part for part in path.split(".")]
    inside: Any = answer
    for part in outer:
        inside = inside[part]
    inside[last] = value
    return answer


def without(path: str, **more: Any) -> Any:
    answer = changed(path, None)
    *outer, last = path.split(".")
    inside: Any = answer
    for part in outer:
        inside = inside[int(part) if part.isdigit() else part]
    del inside[last]
    inside.update(more)
    return answer


@pytest.mark.parametrize(
    ("path", "value", "place"),
    [
        ("status", 404, "status"),
        ("body.grade", "drop_in", "body.grade"),
        ("body.judged", 4, "body.judged"),
        ("body.judged", True, "body.judged"),
        ("body.judged", None, "body.judged"),
        ("body.checks.0.limit", 15.75 * (1 + 1e-11), "body.checks[].limit"),
        ("body.checks.0.limit", None, "body.checks[].limit"),
        ("body.checks.0.required", 0, "body.checks[].required"),
        ("body.checks", [], "body.checks"),
        ("body.checks", [CHECK, CHECK], "body.checks"),
        ("body.checks.0.explanation", "", "body.checks[].explanation"),
        ("body.notes", [], "body.notes"),
        ("body.cautions", ["Lock out the drive."], "body.cautions"),
        ("body.source", "planning", "body.source"),
    ],
)
def test_it_finds_what_changed(path: str, value: Any, place: str) -> None:
    assert places(changed(path, value)) == [place]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("body.checks.0.limit", 15.75 * (1 + 1e-13)),
        ("body.checks.0.explanation", "The hub is 3 mm too wide."),
        ("body.checks.0.source", "rule of this project"),
        ("body.notes", [{"code": "nothing_kept"}]),
        ("body.request_id", "b2"),
        ("body.checks.0.code", "hub_too_wide"),
    ],
)
def test_it_lets_pass_what_is_no_answer(path: str, value: Any) -> None:
    assert places(changed(path, value)) == []


def test_a_member_that_is_gone_is_found_and_may_be_named() -> None:
    gone = without("body.judged")
    assert places(gone) == ["body.judged"]
    assert places(gone, ignored=frozenset({"judged"})) == []
    assert places(gone, ignored=frozenset({"body.judged"})) == []
    assert places(gone, ignored=frozenset({"checks.judged"})) == ["body.judged"]


def test_a_renamed_member_must_hold_the_same() -> None:
    renamed = {"judged": "candidates"}
    assert places(without("body.judged", candidates=3)) == ["body.judged"]
    assert places(without("body.judged", candidates=3), renamed=renamed) == []
    assert places(without("body.judged", candidates=4), renamed=renamed) == ["body.judged"]
    assert places(without("body.judged", candidates=3), renamed={"body.judged": "candidates"}) == []
    assert places(ANSWER, renamed=renamed) == []


def test_a_renamed_word_counts_where_it_is_named() -> None:
    words = frozenset({("with_work", "after_work")})
    assert places(changed("body.grade", "after_work"), words=words) == []
    assert places(changed("body.grade", "unfit"), words=words) == ["body.grade"]


@pytest.mark.parametrize(
    ("phrase", "value", "is_found"),
    [
        ("pin 1 in (25.4 mm)", 25.4, False),
        ("bush SF", "SF", False),
        ("non-sparking", "non_sparking", False),
        ("finished bore 25 mm", 49.6, True),
        ("bored hub", "plain", True),
        ("bush SF", "S", True),
        ("bush SF", None, True),
        ("pin 1 mm", True, True),
    ],
)
def test_a_phrase_may_become_a_number_or_word_of_it(phrase: str, value: Any, is_found: bool) -> None:
    old, new = changed("body.checks.0.offered", phrase), changed("body.checks.0.offered", value)
    found = compare({"one": old}, {"one": new}, Exceptions())
    assert list(found.found) == ["body.checks[].offered"] * is_found


def test_an_answer_that_is_missing_is_a_difference_and_a_new_one_is_none() -> None:
    found = compare({"one": ANSWER, "two": ANSWER}, {"one": ANSWER, "three": ANSWER}, Exceptions())
    assert (found.compared, found.count) == (1, 1)
    assert list(found.by_place()) == ["""(answer): in 'two': "saved" -> "missing\""""]


def test_one_cause_is_one_line() -> None:
    old = {str(number): ANSWER for number in range(3)}
    new = {str(number): changed("body.judged", 4) for number in range(3)}
    found = compare(old, new, Exceptions())
    assert (found.count, list(found.by_place())) == (3, ["body.judged: 3 times, first in '0': 3 -> 4"])


def test_answers_are_read_by_name(tmp_path: Path) -> None:
    path = tmp_path / "answers.jsonl"
    path.write_text(json.dumps({"name": "one", **ANSWER}) + "\n")
    assert read_answers(path) == {"one": ANSWER}
