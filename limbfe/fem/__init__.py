"""Finite-element building blocks shared by the section and the defect models."""
