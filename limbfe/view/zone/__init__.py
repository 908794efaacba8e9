"""Close-up of a knot or patch."""
