"""A limb as a chain of nodes: what it answers to their movement."""
