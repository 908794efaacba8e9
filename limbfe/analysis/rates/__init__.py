"""How the drawn bow changes with its sizes, exactly."""
