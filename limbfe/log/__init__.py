"""The stave before it is a bow: pith, rings and branches of the log, and the bow's place in it."""
