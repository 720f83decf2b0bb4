"""The evening: the one thing that changes, and the parts it is made of."""
