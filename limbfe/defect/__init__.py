"""Plane finite-element sub-models of the wood around a knot or a decayed patch."""
