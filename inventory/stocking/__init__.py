"""How many to keep: demand over a lead time, policies, cover, frontier, replay. Pure: no Django, numpy and scipy only.

Titles, years and pages under Source are from memory, unless the check beside the figure in the tests says that it was seen;
the formulas themselves are held by published figures and by independent computation there.
"""
