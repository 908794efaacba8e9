"""One bow over sizes and places of a zone, or over moisture."""
