"""Which places stand without cover: what only the graph of items and positions can tell."""
