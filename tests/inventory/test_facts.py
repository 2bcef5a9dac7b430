import json

from inventory.facts import fact, fact_from_json


def test_the_order_of_the_values_does_not_matter() -> None:
    assert fact("price", amount="38.50", currency="EUR") == fact("price", currency="EUR", amount="38.50")


def test_a_stored_fact_reads_back_as_it_was() -> None:
    inner = fact("enter_unit_cost", stock_number="SPR-1")
    one = fact("costs_not_compared", share=0.25, missing=(inner,), known=None, is_first=True, basis=inner)
    stored = json.loads(json.dumps(one.as_json(), sort_keys=True))
    assert fact_from_json(stored) == one
