"""The wood of the drawn bow: stress, where it is worked hardest, how far it can be drawn."""
