"""Lifetimes of parts, their fits, and forecasts of failures. Pure: no Django, numpy and scipy only.

Titles, years and pages under Source are from memory, unless the published value beside the test says that it was checked;
published values and independent computation in the tests hold the formulas themselves.
"""
