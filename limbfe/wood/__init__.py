"""What the wood is: elastic constants, strengths, moisture, decay, species table."""
