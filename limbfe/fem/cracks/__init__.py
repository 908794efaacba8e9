"""Cracks along given lines: doubled nodes, and the energy set free at every length."""
