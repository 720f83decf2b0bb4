"""What time it is, and whether the computer's clock can be believed."""
