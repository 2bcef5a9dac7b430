"""The check rows of this room and the car parts they use."""

import csv
import gzip
import io
import json
from functools import cache
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent


@cache
def checks():
    rows = json.loads((HERE / "checks.json").read_text(encoding="utf-8"))
    return {row["id"]: row for row in rows}


def check(name):
    return checks()[name]


def check_ids(prefix):
    return [name for name in checks() if name.startswith(prefix)]


@cache
def car_parts():
    """Monthly sales of the 2,509 parts without a missing month."""
    text = gzip.decompress((HERE / "data" / "carparts.csv.gz").read_bytes()).decode("utf-8")
    rows = [row[1:] for row in list(csv.reader(io.StringIO(text)))[1:]]
    matrix = np.array([[float(cell) for cell in row] for row in rows if "NA" not in row and "" not in row])
    matrix.flags.writeable = False
    return matrix


@cache
def simple_rule_results():
    with open(HERE / "data" / "simple_rules.csv", encoding="utf-8", newline="") as file:
        return {(row["rule"], float(row["target"])): row for row in csv.DictReader(file)}


def agrees(row, name, value):
    """Compares with one expected figure at the row's own tolerance."""
    np.testing.assert_allclose(value, row["expected"][name], rtol=row["rel_tol"], atol=row["abs_tol"])
