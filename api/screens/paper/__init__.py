"""Pages made to be printed: emergency sheets, labels."""
