"""How does the bow move once the string is let go?"""
