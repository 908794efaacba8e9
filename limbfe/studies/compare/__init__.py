"""Several bows brought to the same figure, and judged by the same measures."""
