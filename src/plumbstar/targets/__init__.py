"""What to look at tonight, how hard it is to see, and in what order."""
