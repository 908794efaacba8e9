"""Where the wood is: profile, outline, knots, decay and grain of one stave."""
