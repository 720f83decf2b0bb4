"""The push to the target, the search when it is not there, and what the Sun forbids."""
