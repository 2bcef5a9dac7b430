"""Part for place: what a verdict needs that only the drive can tell. Pure: no Django."""
