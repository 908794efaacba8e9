"""What an analysis hands on: arrays in SI, the JSON contract, files for other viewers."""
