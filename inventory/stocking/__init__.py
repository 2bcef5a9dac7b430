"""How many to keep: demand over a lead time, reorder points, shared stock, back-tests. Pure: numpy and scipy, no Django.

Numbers are checked where they come in: by the demand models, the targets, `evaluate`, `least_cost`, `from_pmf`, `shared_stock`,
`run_backtest` and the measures of record accuracy, which raise a `ValueError` that names the parameter in backticks. All other
functions take numbers that were checked before.

Titles, years and pages of sources are from memory, unless the check beside the figure in the tests says that it was seen; the
formulas themselves are held by published figures and by independent computation there.
"""
