"""What is in the sky, and towns on the ground, as lists."""
