"""How a drawn bow changes with its stiffness and its rest shape, exactly."""
