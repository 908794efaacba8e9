"""Tables and documents."""
