"""Many independent computations, over processes or a cluster, with a journal."""
