import json

import numpy as np
import pytest
from django.core.management import CommandError, call_command

from api.wording.sentences import sentence
from inventory.stocking.backtest import RECOMMENDED, run_backtest

DEMAND = np.random.default_rng(5).poisson(0.5, (20, 36))


@pytest.fixture
def table(tmp_path):
    """Writes rows of cells below a line of headings."""

    def write(rows, names=("item",)):
        headings = [*names, *(f"M{month}" for month in range(1, 37))]
        path = tmp_path / "demand.csv"
        path.write_text(
            "\n".join(",".join(map(str, row)) for row in [headings, *rows]) + "\n", encoding="utf-8"
        )
        return path

    return write


@pytest.fixture
def good(table):
    return table([[f"SPR-{number}", *row] for number, row in enumerate(DEMAND)])


def run(path, *options, capsys):
    call_command("backtest", str(path), *options)
    return capsys.readouterr().out


def test_it_prints_every_rule_at_every_promise_and_marks_the_best(good, capsys):
    lines = run(good, "--first-origin", "24", "--exposure", "3", "--step", "3", capsys=capsys).splitlines()
    found = run_backtest(DEMAND, first_origin=24, exposure=3, step=3)
    rows = lines[1:31]
    for line, promise in zip(rows, found.promises, strict=True):
        assert line.startswith(promise.rule)
        assert f"{promise.achieved:.4f}" in line
        assert f"{promise.mean_leftover:.3f}" in line
        assert line.endswith(" *") == promise.is_best
    assert lines[-len(found.reasons) :] == [sentence(reason) for reason in found.reasons]


def test_json_holds_the_same_figures(good, capsys):
    answer = json.loads(run(good, "--json", "--targets", "0.8", "0.97", capsys=capsys))
    own = [row for row in answer["promises"] if row["rule"] == RECOMMENDED]
    found = run_backtest(DEMAND, first_origin=24, exposure=3, step=3, targets=[0.8, 0.97])
    assert [row["promised"] for row in own] == [0.8, 0.97]
    assert [row["achieved"] for row in own] == [
        one.achieved for one in found.promises if one.rule == RECOMMENDED
    ]
    assert (answer["items"], answer["incomplete_rows"]) == (20, 0)


def test_rows_with_a_missing_period_are_left_out_and_counted(table, capsys):
    rows = [["SPR-1", *DEMAND[0]], ["SPR-2", "NA", *DEMAND[1][1:]], ["SPR-3", "", *DEMAND[2][1:]]]
    path = table([*rows, ["SPR-4", *DEMAND[3]]])
    answer = json.loads(run(path, "--json", "--targets", "0.9", capsys=capsys))
    assert (answer["items"], answer["incomplete_rows"]) == (2, 2)
    assert answer["reasons"][-1] == {
        "code": "incomplete_rows_left_out",
        "values": {"count": 2},
        "explanation": "2 rows with a missing period were left out.",
    }


def test_several_columns_of_names_are_passed_over(table, good, capsys):
    options = ("--json", "--targets", "0.9")
    plain = run(good, *options, capsys=capsys)
    named = table([["MAIN", f"SPR-{n}", *row] for n, row in enumerate(DEMAND)], names=("room", "item"))
    assert run(named, "--id-columns", "2", *options, capsys=capsys) == plain


def edited(place, text):
    row = ["SPR-2", *map(str, DEMAND[1])]
    row[place] = text
    return [["SPR-1", *DEMAND[0]], row]


@pytest.mark.parametrize(
    ("rows", "message"),
    [
        (edited(4, "two"), r"line 3, column 5 \(M4\): 'two' is no number"),
        (edited(4, "-1"), r"line 3, column 5 \(M4\): '-1' must be a whole number of pieces"),
        (edited(36, "0.5"), r"line 3, column 37 \(M36\): '0.5' must be a whole number"),
        (edited(1, "inf"), r"line 3, column 2 \(M1\): 'inf' must be a whole number"),
        (edited(1, "1e9"), r"line 3, column 2 \(M1\): '1e9' is more than 10,000 pieces"),
        ([["SPR-1", *DEMAND[0][1:]]], "line 2: 36 columns, where the first line has 37"),
        ([], "holds no row in which every period has a figure"),
    ],
)
def test_a_bad_cell_is_named_by_line_and_column(table, rows, message):
    with pytest.raises(CommandError, match=message):
        call_command("backtest", str(table(rows)))


@pytest.mark.parametrize(
    ("options", "message"),
    [
        (["--first-origin", "1"], "--first-origin must be a whole number from 3"),
        (["--first-origin", "36"], "the file must have an item, and periods enough"),
        (["--exposure", "0"], "--exposure must be"),
        (["--step", "0"], "--step must be"),
        (["--targets", "95"], "95 is no share between 0 and 1"),
        (["--id-columns", "0"], r"line 2, column 1 \(item\): 'SPR-0' is no number.*set --id-columns"),
        (["--id-columns", "-1"], "--id-columns must be 0 or more"),
        (["--id-columns", "40"], "the first line has no column after the 40 of names"),
    ],
)
def test_a_bad_option_is_named(good, options, message):
    with pytest.raises(CommandError, match=message):
        call_command("backtest", str(good), *options)


def test_a_file_that_is_not_there_or_no_text_is_named(tmp_path):
    with pytest.raises(CommandError, match="cannot be read"):
        call_command("backtest", str(tmp_path / "none.csv"))
    (tmp_path / "odd.csv").write_bytes(b"item,M1\nSPR-1,\xff\n")
    with pytest.raises(CommandError, match="is no CSV file in UTF-8"):
        call_command("backtest", str(tmp_path / "odd.csv"))
