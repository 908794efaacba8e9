"""Knots and patches of the drawn bow: their layers, load, verdicts and advice."""
