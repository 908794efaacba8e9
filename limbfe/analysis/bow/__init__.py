"""From the stave to the drawn bow: set-up, sections along the limb, brace, draws, first pull."""
