"""Where to take wood next, in the order to do it."""
