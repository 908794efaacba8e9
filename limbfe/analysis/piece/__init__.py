"""The piece of limb round a zone: what its faces cut of knots and patches, and its wood."""
