"""Guided checks by daylight or at the bench, and what their numbers mean."""
