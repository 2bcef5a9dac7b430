"""How many to keep: the pages on which a maintenance manager reads, checks and decides it."""
