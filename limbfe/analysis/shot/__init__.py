"""What does the bow do when it is shot: how fast, at what cost to string and limbs?"""
