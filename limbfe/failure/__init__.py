"""Strength used by mode, and verdicts."""
