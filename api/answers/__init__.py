"""Answers worked out on the spot: chains, tooth form, drives, verdicts, substitutes."""
