"""Geometrically exact beam finite elements, string, bracing and drawing."""
