"""How long parts last and how many will be asked for: lives, fits, forecasts. Pure: no Django, numpy and scipy only.

Titles, years and pages under Source are from memory, unless the check beside the figure in the tests says that it was seen;
the formulas themselves are held by published figures and by independent computation there.
"""
