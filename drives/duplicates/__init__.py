"""Duplicates: groups of one part under several numbers with what that costs, and merges of two numbers that can be undone."""
