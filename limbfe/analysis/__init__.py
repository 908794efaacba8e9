"""Joins section and beam: one stave from rest to full draw, stresses, results."""
