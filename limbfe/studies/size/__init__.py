"""How thick every station must be for a draw weight."""
