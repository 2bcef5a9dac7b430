"""How long parts last and how many will be asked for: lives, fits, forecasts. Pure: no Django, numpy and scipy only."""
