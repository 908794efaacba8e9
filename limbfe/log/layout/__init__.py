"""Where the bow lies in the stave: the search for its centre line."""
