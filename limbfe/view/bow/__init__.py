"""Pictures of the whole bow: side, faces, strength, draw curve, film, page, window."""
