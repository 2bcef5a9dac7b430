"""Installations and inspections of a file, recorded by the history of the drives."""

from api.exchange.checking import ParsedRow
from api.exchange.results import Report


def record_installations(rows: list[ParsedRow], report: Report, by: object) -> None:
    raise NotImplementedError


def record_inspections(rows: list[ParsedRow], report: Report, by: object) -> None:
    raise NotImplementedError
