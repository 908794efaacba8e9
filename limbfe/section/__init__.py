"""Two-dimensional finite elements for the cross-section: 6x6 stiffness and recovery."""
