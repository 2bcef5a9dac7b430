"""Administration pages; stock is written by the ledger alone."""

from inventory.admin import catalogue, checks, places, rules, stock, stocking
