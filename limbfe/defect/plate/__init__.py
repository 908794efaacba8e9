"""One layered plate round knots, holes and patches: displacements vary through its depth."""
