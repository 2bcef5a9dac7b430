from typing import Any

import pytest
from rest_framework.test import APIClient

from tests import factories as make
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/service-targets/"


def test_a_promise_is_made_for_an_importance(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"importance": "vital", "value": 0.99, "tolerable_wait_hours": 4.5})
    assert made.status_code == 201, made.content
    shown = {"importance": "vital", "kind": "fill_rate", "value": 0.99, "tolerable_wait_hours": 4.5}
    assert shown.items() <= as_manager.get(f"{PATH}vital/").json().items()


def test_an_importance_has_one_promise(as_manager: APIClient) -> None:
    make.ServiceTargetFactory()
    assert as_manager.post(PATH, {"importance": "essential", "value": 0.9}).status_code == 409


@pytest.mark.parametrize("value", [0, 1, -0.1, 1.5, "0.9", None])
def test_a_promise_lies_between_never_and_always(value: Any, as_manager: APIClient) -> None:
    make.ServiceTargetFactory()
    assert "/value" in errors(change(as_manager, f"{PATH}essential/", {"value": value}))


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    wrong = {
        "importance": "huge",
        "kind": "hope",
        "value": 2,
        "tolerable_wait_hours": -1,
        "note": "x" * 201,
    }
    assert set(errors(as_manager.post(PATH, wrong))) == {f"/{name}" for name in wrong}


def test_it_is_filtered(as_viewer: APIClient) -> None:
    make.ServiceTargetFactory(importance="vital", value=0.99)
    make.ServiceTargetFactory(importance="desirable", value=0.9, kind="cost", tolerable_wait_hours=48)
    assert names(as_viewer.get(f"{PATH}?importance=vital,essential"), "value") == [0.99]
    assert names(as_viewer.get(f"{PATH}?kind=cost&tolerable_wait_hours__gte=24"), "value") == [0.9]
    assert names(as_viewer.get(f"{PATH}?ordering=-value"), "importance") == ["vital", "desirable"]
