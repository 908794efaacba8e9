"""Finite-element simulation of wooden bow limbs."""
