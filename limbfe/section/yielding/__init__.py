"""Sections whose fibres are crushed along the grain."""
