"""Figures a manager asks for each month; each one opens to the rows that it counts."""
