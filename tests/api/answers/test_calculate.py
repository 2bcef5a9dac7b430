import pytest

pytestmark = [pytest.mark.django_db, pytest.mark.no_rows]
ADDRESS = "/api/v1/drives/calculate/"
MOTT_7_3 = {"chain": "40", "strands": 4, "driver_teeth": 17, "driven_teeth": 65, "centre_distance_mm": 381.0}


def calculate(client, **changes):
    return client.post(ADDRESS, {**MOTT_7_3, **changes}, format="json")


def test_it_agrees_with_a_textbook_example(as_viewer):
    # Mott, Machine Elements in Mechanical Design, 4th ed., ex. 7-3: 30 pitches give 102.9 links, 104 links 15.272 in.
    by_centre = calculate(as_viewer).json()
    by_links = calculate(as_viewer, links=104, centre_distance_mm=None).json()

    assert by_centre["links_exact"] == pytest.approx(102.9, abs=0.06)
    assert by_links["centre_distance_mm"] == pytest.approx(15.272 * 25.4, abs=0.1)
    assert by_links["wrap_driver_deg"] == pytest.approx(151.1, abs=0.1)


def test_rating_names_its_generation_and_its_limit(as_viewer):
    # ASME B29.1 rating table of No. 40, 17 teeth, 900 rpm: 4.98 hp single strand.
    answer = calculate(as_viewer, strands=1, driver_speed_rpm=900, power_kw=2.0, service_factor=1.0).json()

    assert answer["rated_power_kw"] == pytest.approx(4.98 * 0.7457, abs=0.005)
    assert answer["limited_by"] == "plate_fatigue"
    assert "older generation" in answer["generation"]
    assert answer["utilisation"] == pytest.approx(2.0 / answer["rated_power_kw"])


def test_links_are_even_and_the_centre_belongs_to_them(as_viewer):
    answer = calculate(as_viewer).json()

    assert answer["links"] % 2 == 0
    again = calculate(as_viewer, links=answer["links"], centre_distance_mm=None).json()
    assert again["centre_distance_mm"] == pytest.approx(answer["centre_distance_mm"])


def test_half_of_the_data_still_gets_an_answer_that_says_so(as_viewer):
    answer = calculate(as_viewer).json()

    assert answer["ratio"] == pytest.approx(65 / 17)
    assert answer["rated_power_kw"] is None
    assert {
        "code": "speed_not_given",
        "values": {},
        "explanation": "The speed is not given: speeds, rating, pull and lubrication were not checked.",
    } in answer["advice"]


def test_advice_carries_its_figures(as_viewer):
    advice = {
        row["code"]: row for row in calculate(as_viewer, driver_teeth=17, driven_teeth=120).json()["advice"]
    }

    assert advice["ratio_too_large"]["values"] == {"ratio": pytest.approx(120 / 17), "largest_ratio": 6.0}
    assert advice["ratio_too_large"]["explanation"].startswith("The ratio of 7.06 is above 6")


@pytest.mark.parametrize("special", ["fixed_centres", "parallel_chains"])
def test_special_drives_wear_out_earlier(as_viewer, special):
    assert calculate(as_viewer).json()["wear_limit_percent"] == 3.0
    assert calculate(as_viewer, **{special: True}).json()["wear_limit_percent"] == 1.5


@pytest.mark.parametrize(
    ("changes", "pointers"),
    [
        ({"chain": "09Q"}, {"/chain"}),
        ({"driver_teeth": 5, "driven_teeth": 401}, {"/driver_teeth", "/driven_teeth"}),
        ({"links": 104}, {"/links", "/centre_distance_mm"}),
        ({"centre_distance_mm": None}, {"/links", "/centre_distance_mm"}),
        ({"centre_distance_mm": 15.0}, {"/centre_distance_mm"}),
        ({"power_kw": -1, "driver_speed_rpm": "fast"}, {"/power_kw", "/driver_speed_rpm"}),
        ({"driver_tooth": 17}, {"/driver_tooth"}),
        ({"lubrication": "prayer"}, {"/lubrication"}),
    ],
)
def test_bad_members_are_named(as_viewer, changes, pointers):
    answer = calculate(as_viewer, **changes)

    assert answer.status_code == 400
    assert {row["pointer"] for row in answer.json()["errors"]} == pointers


def test_inches_in_a_millimetre_member_are_asked_about(as_viewer):
    answer = calculate(as_viewer, centre_distance_mm=15.0)

    assert "Is that inches? 15 in is 381 mm." in answer.json()["errors"][0]["detail"]


@pytest.mark.parametrize("body", ['{"chain": "40", "power_kw": NaN}', '{"chain": "40", "power_kw": 1e999}'])
def test_numbers_without_end_are_refused(as_viewer, body):
    assert as_viewer.post(ADDRESS, body, content_type="application/json").status_code == 400
