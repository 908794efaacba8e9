"""How likely a bow holds, what it draws, how sure that is, and what to measure next."""
