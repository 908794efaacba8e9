"""Picture of one cross-section."""
