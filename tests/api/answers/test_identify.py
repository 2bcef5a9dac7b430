from decimal import Decimal
from typing import Any

import pytest
from rest_framework.test import APIClient

from api.edge.scope import limit_to
from api.models import AccessToken, Role
from inventory.models import Item, Storeroom
from tests import factories as make

pytestmark = pytest.mark.django_db
ADDRESS = "/api/v1/identify/"
WORN_08B = {
    "teeth": 17,
    "outside_diameter_mm": 75.4,
    "caliper_diameter_mm": 60.0,
    "tooth_width_mm": 7.1,
    "overall_width_mm": None,
    "strands": 1,
    "bore_mm": 25,
    "keyway_width_mm": 8,
    "hub_diameter_mm": 52,
    "worn": True,
}


def identified(client: APIClient, **changes: Any) -> Any:
    return client.post(ADDRESS, {**WORN_08B, **changes}, format="json")


def stocked(
    quantity: int = 2, *, room: Storeroom | None = None, condition: str = "new", **attributes: Any
) -> Item:
    item = make.ItemFactory(specification=make.SprocketFactory(**attributes))
    make.stock(item, room or make.StoreroomFactory(), quantity, condition=condition)
    return item


def errors(answer: Any) -> dict[str, str]:
    assert answer.status_code == 400, answer.content
    return {row["pointer"]: row["detail"] for row in answer.json()["errors"]}


def test_it_ranks_the_candidates_and_says_what_decides(as_viewer: APIClient) -> None:
    answer = identified(as_viewer).json()
    first = answer["candidates"][0]

    assert (first["chain"], first["same_rim"], first["strands"], first["teeth"]) == ("08B", ["428"], 1, 17)
    assert sum(one["probability"] for one in answer["candidates"]) + answer["unknown"] == pytest.approx(1.0)
    assert first["residuals"].keys() == {"outside_diameter_mm", "caliper_diameter_mm", "tooth_width_mm"}
    assert first["expected"]["tooth_width_mm"] == {"size_mm": 7.208, "least_mm": 6.848, "most_mm": 7.208}
    assert first["tell_apart"]["code"] in ("measurement_tells_apart", "nothing_tells_apart")
    assert answer["pitches"][0]["pitch_mm"] == 12.7
    assert answer["teeth"][0]["teeth"] == 17
    assert "odd_teeth_outside_diameter" in [note["code"] for note in answer["notes"]]


def test_the_next_measurement_is_named_with_its_information(as_viewer: APIClient) -> None:
    answer = as_viewer.post(
        ADDRESS,
        {"teeth": 21, "outside_diameter_mm": 182, "strands": 1, "worn": False, "plant_prior": False},
        format="json",
    ).json()

    assert answer["measure_next"][0]["measurement"] == "tooth_width_mm"
    assert answer["measure_next"][0]["information_bits"] > 1
    assert answer["measure_next"][0]["reason"]["explanation"].startswith("Measure the tooth width next")
    by_chain = {one["chain"]: one for one in answer["candidates"]}
    assert by_chain["16A"]["same_rim"] == ["16AH"]
    assert by_chain["16B"]["tell_apart"]["values"] | {"right_share": 1.0} == {
        "chain": "16B",
        "strands": 1,
        "other": "16A",
        "other_strands": 1,
        "measurement": "tooth_width_mm",
        "size_mm": 16.17,
        "other_mm": 14.96,
        "right_share": 1.0,
    }


def test_what_lies_free_comes_with_it_the_same_bore_first(as_viewer: APIClient) -> None:
    bored = stocked(1)
    pilot = stocked(5, bore_type="plain", bore_mm=Decimal(12), keyway_width_mm=None)
    stocked(3, teeth=18)
    stocked(3, chain_designation="10B")
    stocked(1, condition="on_hold")

    answer = identified(as_viewer).json()
    first = answer["candidates"][0]
    found = [(one["stock_number"], one["bore_match"], one["available"]) for one in answer["items"]]

    assert first["chain"] == "08B"
    assert found == [(bored.stock_number, "same", 1), (pilot.stock_number, "can_be_bored", 5)]
    assert answer["items"][0]["stock"] == [
        {"storeroom": "MAIN", "bin": None, "condition": "new", "available": 1}
    ]
    assert (answer["items_found"], answer["more_items"]) == (2, False)


def test_positions_that_use_it_come_with_it(as_viewer: APIClient) -> None:
    place = make.PositionFactory()
    make.PositionFactory(teeth=19)
    make.PositionFactory(in_use_until="2020-01-01")
    make.PositionFactory(drive=make.DriveFactory(chain_designation="10B", pitch_mm=Decimal("15.875")))

    answer = identified(as_viewer).json()

    assert [one["tag"] for one in answer["positions"]] == [place.tag]
    assert answer["positions"][0]["drive"] == place.drive.tag
    assert (answer["positions_found"], answer["more_positions"]) == (1, False)


def test_drives_of_the_plant_move_the_probabilities_unless_switched_off(as_viewer: APIClient) -> None:
    readings = {"teeth": 21, "outside_diameter_mm": 112.0, "tooth_width_mm": 8.85, "strands": 1}
    for number in range(6):
        make.DriveFactory(tag=f"KILN-{number}", chain_designation="10B", pitch_mm=Decimal("15.875"))

    def share(**more: Any) -> float:
        answer = as_viewer.post(ADDRESS, {**readings, **more}, format="json").json()
        assert answer["prior"]["plant_prior"] is more.get("plant_prior", True)
        assert answer["prior"]["drives_counted"] == (6 if more.get("plant_prior", True) else 0)
        return float(next(one["probability"] for one in answer["candidates"] if one["chain"] == "10B"))

    assert share() > share(plant_prior=False) + 0.1


def test_a_caller_sees_the_shelves_and_places_of_its_own_scope(db: None) -> None:
    north, own = make.StoreroomFactory(code="NORTH"), make.StoreroomFactory()
    stocked(2, room=own)
    hidden = stocked(7, room=north)
    other = make.PositionFactory(
        drive=make.DriveFactory(
            equipment=make.EquipmentFactory(
                tag="MILL-EL1", area=make.AreaFactory(plant=make.PlantFactory(code="MILL"))
            )
        )
    )
    token, secret = AccessToken.objects.issue("the counter", role=Role.STOREROOM)
    limit_to({"token": token}, [make.PlantFactory()], [own])
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")

    answer = identified(client).json()

    assert hidden.stock_number not in [one["stock_number"] for one in answer["items"]]
    assert other.tag not in [one["tag"] for one in answer["positions"]]
    assert answer["prior"]["drives_counted"] == 0


@pytest.mark.parametrize(
    ("changes", "pointer", "part"),
    [
        ({"teeth": 0}, "/teeth", "6"),
        ({"teeth": None}, "/teeth", "null"),
        ({"outside_diameter_mm": 55.0}, "/outside_diameter_mm", "smaller than"),
        ({"overall_width_mm": 5.0}, "/overall_width_mm", "smaller than"),
        ({"outside_diameter_mm": 2.96}, "/outside_diameter_mm", "Is that inches? 2.96 in is 75.184 mm"),
        ({"tooth_width_mm": 0.28}, "/tooth_width_mm", "Is that inches?"),
        ({"outside_diameter_mm": 1e9}, "/outside_diameter_mm", "too large"),
        ({"outside_diameter_mm": 20000}, "/outside_diameter_mm", "outside 12 to 10000 mm"),
        ({"strands": 2, "overall_width_mm": 9.0}, "/overall_width_mm", "count the rows"),
        ({"chord_mm": 37.0}, "/chord_gaps", "chord_gaps together"),
        ({"chord_mm": 37.0, "chord_gaps": 15}, "/chord_gaps", "at most 8"),
        ({"worn": "yes"}, "/worn", "true or false"),
        ({"keyway_width_mm": 30}, "/bore_mm", "smaller than"),
        ({"outside_dia_mm": 75}, "/outside_dia_mm", "outside_diameter_mm"),
    ],
)
def test_it_names_every_bad_reading(
    as_viewer: APIClient, changes: dict[str, Any], pointer: str, part: str
) -> None:
    assert part in errors(identified(as_viewer, **changes))[pointer]


def test_a_large_wheel_read_in_inches_is_asked_about(as_viewer: APIClient) -> None:
    answer = as_viewer.post(ADDRESS, {"teeth": 60, "outside_diameter_mm": 24.5}, format="json")

    assert "give 622.3" in errors(answer)["/outside_diameter_mm"]


def test_what_fits_no_chain_finds_nothing_on_the_shelves(as_viewer: APIClient) -> None:
    stocked(2)
    answer = identified(
        as_viewer, outside_diameter_mm=100, caliper_diameter_mm=60, tooth_width_mm=33, hub_diameter_mm=None
    ).json()

    assert answer["unknown"] > 0.9
    assert answer["items"] == []
    assert "no_listed_chain_fits" in [note["code"] for note in answer["notes"]]


def test_it_refuses_strangers(as_stranger: APIClient) -> None:
    assert identified(as_stranger).status_code == 401


def test_the_number_of_queries_does_not_depend_on_the_plant(
    as_viewer: APIClient, django_assert_num_queries: Any
) -> None:
    stocked(1)
    make.PositionFactory()
    with django_assert_num_queries(3):
        identified(as_viewer)
    for _ in range(3):
        stocked(1)
        make.PositionFactory()
    with django_assert_num_queries(3):
        assert identified(as_viewer).json()["items_found"] == 4
