"""What a bow does when it is braced, drawn, let down or pulled on a long string."""
