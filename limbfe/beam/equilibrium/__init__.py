"""The shape in which limbs and string balance, and whether it is stable."""
