"""Dates, times and numbers of each language that pages are read in."""
