"""Which shelves are counted when, what was found, and how far the book can be trusted."""
