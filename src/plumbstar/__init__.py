"""Plumbstar: point a hand-moved telescope from a few sightings, and know the odds.

The package root imports nothing heavy, so that ``plumbstar --help`` is instant.
"""

__version__ = "0.1.0"
