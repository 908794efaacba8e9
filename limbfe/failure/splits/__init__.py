"""Splits along the grain: when one starts, how far it goes, and what it does to the fibres."""
