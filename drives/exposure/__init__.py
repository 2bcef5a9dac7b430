"""Which positions stand without cover: what only the graph of items and positions shows."""
