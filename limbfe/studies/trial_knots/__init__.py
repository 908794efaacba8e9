"""What a knot of any size would do to a bow, wherever it were: trial knots, and a map of them."""
