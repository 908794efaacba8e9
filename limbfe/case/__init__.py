"""Case files: schema, checks, messages, and the way to domain objects."""
