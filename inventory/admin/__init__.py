"""Administration pages; stock is written by the ledger alone."""

from inventory.admin import catalogue, checks, duplicates, places, rules, stock, stocking
