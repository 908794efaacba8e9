"""Pictures of a stave and the bow laid in it; the pattern at full size."""
