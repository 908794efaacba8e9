"""Where a bow lies in a split stave: the lines a saw follows."""
