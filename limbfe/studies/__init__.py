"""Studies that call the analysis many times."""
