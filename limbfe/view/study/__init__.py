"""Pictures of studies: many bows or many readings."""
