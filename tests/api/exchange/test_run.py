import csv
import io
import unicodedata
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from api.exchange.tables import TABLES
from api.wire.case_twins import NAMED_BY
from api.wording.sentences import sentence
from drives.models import Drive, Position
from inventory.facts import fact
from inventory.models import Bin, Item, OpeningHours, Rule, Specification, Storeroom
from tests.api.exchange.files import PLANT, load, load_up_to, sentences

pytestmark = pytest.mark.django_db
RECORDS = list(PLANT)[: list(PLANT).index("movements")]


def test_it_loads_the_plant_and_changes_nothing_the_second_time() -> None:
    load_up_to("items")

    for kind in RECORDS:
        again = load(kind)
        assert again.is_accepted
        assert (again.counts["created"], again.counts["updated"]) == (0, 0), kind
        assert again.counts["unchanged"] == len(PLANT[kind].splitlines()) - 1


def test_an_unchanged_file_costs_no_write_and_few_queries() -> None:
    load_up_to("items")

    with CaptureQueriesContext(
        connection,
    ) as queries:
        load("items")

    writes = [q["sql"] for q in queries if q["sql"].split()[0] in {"INSERT", "UPDATE", "DELETE"}]
    assert writes == []
    assert len(queries) < 10


def test_it_writes_what_the_file_says() -> None:
    load_up_to("items")

    drive = Drive.objects.get()
    assert (drive.chain_designation, drive.pitch_mm, drive.environment) == (
        "08A",
        Decimal("12.7"),
        ["washdown", "food"],
    )
    assert Position.objects.get(tag="WL-EL-01-D1-B").shaft_diameter_mm == Decimal("49.2125")
    assert Storeroom.objects.get(code="NORTH").pick_minutes == 10
    item = Item.objects.select_related("specification", "replaced_by").get(stock_number="004714")
    assert item.specification is not None
    assert (item.specification.chain_designation, item.replaced_by.stock_number) == ("08A", "004711")
    assert Item.objects.get(stock_number="004715").specification is None
    assert Rule.objects.get().value == 20.0
    assert OpeningHours.objects.count() == 3


def test_a_changed_row_is_updated_alone() -> None:
    load_up_to("storerooms")

    result = load("storerooms", PLANT["storerooms"].replace("North storeroom", "Storeroom at the quay"))

    assert (result.counts["updated"], result.counts["unchanged"]) == (1, 1)
    assert Storeroom.objects.get(code="NORTH").name == "Storeroom at the quay"


def test_an_empty_cell_means_not_known_and_a_missing_column_leaves_what_stands() -> None:
    load_up_to("storerooms")

    load("storerooms", "code,name\nMAIN,Main storeroom\n")
    assert Storeroom.objects.get(code="MAIN").call_out_minutes == 45
    load("storerooms", "code,name,call_out_minutes\nMAIN,Main storeroom,\n")
    assert Storeroom.objects.get(code="MAIN").call_out_minutes is None


def test_a_rejected_row_keeps_the_whole_file_out() -> None:
    load_up_to("storerooms")

    result = load("bins", "storeroom,code\nMAIN,A-01\nMIAN,A-02\nMAIN,02-Jan\n")

    assert (result.counts["created"], result.rejected, result.written) == (1, 2, False)
    assert Bin.objects.count() == 0
    assert sentences(result) == [
        (3, "storeroom", "There is no storeroom 'MIAN': import or correct it first. Did you mean \"MAIN\"?"),
        (
            4,
            "code",
            "'02-Jan' looks like a code that a spreadsheet turned into a date: "
            "format the column as text and enter the code again.",
        ),
    ]


def test_the_good_rows_come_in_when_that_is_asked_for() -> None:
    load_up_to("storerooms")

    result = load("bins", "storeroom,code\nMAIN,A-01\nMIAN,A-02\n", partial=True)

    assert (result.counts["created"], result.rejected, result.written) == (1, 1, True)
    assert Bin.objects.get().code == "A-01"


def test_a_dry_run_changes_nothing_and_reports_the_same() -> None:
    load_up_to("positions")

    rehearsed = load("items", dry_run=True)
    assert (Item.objects.count(), Specification.objects.count(), rehearsed.written) == (0, 0, False)

    real = load("items")
    assert (rehearsed.row_results, rehearsed.counts) == (real.row_results, real.counts)
    assert Item.objects.count() == 5


def test_every_bad_cell_of_a_row_is_reported_in_one_pass() -> None:
    load_up_to("equipment")
    text = (
        "tag,equipment,name,chain,pitch_mm,links,power_kw,environment,criticality,in_use_from\n"
        "D1,WL-EL-01,Head drive,40,0.5,many,1_1,damp,vitl,01.02.2024\n"
        "D2,WL-EL-01,,,,,,,,\n"
    )

    result = load("drives", text)

    assert [(line, column) for line, column, _ in sentences(result)] == [
        (2, "pitch_mm"),
        (2, "links"),
        (2, "power_kw"),
        (2, "environment"),
        (2, "criticality"),
        (2, "in_use_from"),
        (3, "name"),
    ]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("storeroom\nMAIN\n", "The column 'code' is missing"),
        ("storeroom,code,shelf\nMAIN,A,B\n", "There is no column 'shelf' in bins."),
        ("storeroom,cod\nMAIN,A\n", 'Did you mean "code"?'),
    ],
)
def test_wrong_columns_stop_the_file(text: str, words: str) -> None:
    result = load("bins", text)

    assert words in sentence(result.problems[0])
    assert result.problems[-1] == fact("columns_known", kind="bins", columns="storeroom, code")
    assert not result.row_results


def test_the_same_key_with_other_data_stops_the_file_and_names_both_lines() -> None:
    result = load("rules", "name,value\nheavy_mass_kg,2\nfast_driver_rpm,1\nheavy_mass_kg,3\n")

    both = {"first_line": 2, "line": 4, "key": "heavy_mass_kg", "differs": "value"}
    assert result.problems == (fact("two_rows_of_one_key", **both),)
    assert not Rule.objects.exists()


def test_a_row_said_twice_is_written_once() -> None:
    result = load("rules", "name,value\nheavy_mass_kg,2\nheavy_mass_kg,2.0\n")

    assert (result.counts["created"], result.counts["unchanged"]) == (1, 1)


def test_it_refuses_a_kind_that_it_does_not_know() -> None:
    result = load("item", "a\n1\n")

    (problem,) = result.problems
    assert (problem.code, problem.values["suggestion"]) == ("kind_of_file_not_known", "items")


@pytest.mark.parametrize(
    ("row", "column", "sentence"),
    [
        ("X1,sprocket,08B,12.9,17,,", "pitch_mm", "leave out one of the two"),
        ("X1,sprocket,08Q,,17,,", "chain", "08Q"),
        ("X1,sprocket,08B,,5,,", "teeth", "from 6 to 400"),
        ("X1,sprocket,08B,,17,30,28", "bore_mm", "must not be smaller"),
        ("X1,sprocket,08B,,17,2.0,", "bore_mm", "2 mm bore: inches?"),
        ("X1,,08B,,17,,", "kind", "say what part it is"),
    ],
)
def test_the_rules_of_the_records_are_told_by_column(row: str, column: str, sentence: str) -> None:
    result = load("items", f"stock_number,kind,chain,pitch_mm,teeth,bore_mm,max_bore_mm\n{row}\n")

    ((line, found, said),) = sentences(result)
    assert (line, found) == (2, column)
    assert sentence in said


def test_an_inch_outside_diameter_beside_a_metric_pitch_raises_the_question() -> None:
    text = "stock_number,kind,chain,teeth,outside_diameter_mm\nX1,sprocket,08B,60,14.4\n"

    ((_, column, sentence),) = sentences(load("items", text))

    assert column == "outside_diameter_mm"
    assert "14.4 in would be 365.76 mm" in sentence


def test_centres_in_inches_raise_the_question() -> None:
    load_up_to("equipment")

    result = load("drives", "tag,equipment,name,chain,centre_distance_mm\nD1,WL-EL-01,Head,16B,48\n")

    assert "48 in would be 1219.2 mm" in sentences(result)[0][2]


def test_decimal_commas_are_read_or_asked() -> None:
    text = "stock_number;kind;pitch_mm;bore_mm\nX1;sprocket;12,7;25,000\nX2;sprocket;12,7;1.250\n"

    result = load("items", text)

    assert [(line, column) for line, column, _ in sentences(result)] == [(3, "bore_mm")]


def test_a_cell_that_looks_like_a_formula_is_kept_as_text() -> None:
    load("items", "stock_number,description\nX1,=HYPERLINK(1)\n")

    assert Item.objects.get().description == "=HYPERLINK(1)"


def test_a_rule_that_names_no_threshold_is_rejected() -> None:
    result = load("rules", "name,value\nheavy_mas_kg,20\n")

    assert (result.rejected, Rule.objects.count()) == (1, 0)
    (error,) = result.row_results[0].errors
    assert error.fact.code == "rule_names_a_threshold"
    assert "heavy_mass_kg" in sentence(error.fact)


def test_a_key_in_other_capitals_is_no_second_record_of_any_kind() -> None:
    load_up_to("items")
    for kind in [kind for kind in RECORDS if TABLES[kind].key[-1] in NAMED_BY]:
        name = TABLES[kind].key[-1]
        first = next(csv.DictReader(io.StringIO(PLANT[kind])))
        is_plain = name == "code" and kind != "bins"

        def given(*keys: str, first=first, name=name) -> str:
            rows = [",".join(first)] + [",".join([*{**first, name: key}.values()]) for key in keys]
            return "\n".join(rows) + "\n"

        one, other = ("QA-1", "qa-1") if is_plain else ("QÄ-1", "qä-1")
        problem = fact("key_in_other_case", key=other, other=one)
        assert [error.fact for row in load(kind, given(one, other)).row_results for error in row.errors] == [
            problem
        ]
        assert load(kind, given(one)).counts == {"created": 1}, kind
        refused = load(kind, given(other)).row_results[0].errors
        assert [(error.column, error.fact) for error in refused] == [(name, problem)], kind
        assert load(kind, given(unicodedata.normalize("NFD", one))).counts == {"unchanged": 1}, kind
