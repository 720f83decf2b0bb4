"""How to find a star with the eye, from what everybody knows."""
