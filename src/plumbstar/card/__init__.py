"""The night card: the evening on one sheet of paper, in one file for the phone, in a calendar.

:func:`make` works out what is on it, as plain frozen objects (model.py). :func:`paper.pdf` prints
it, :func:`phone.html` writes it for a phone, :func:`calendar.ics` gives its times to a calendar.
"""

from plumbstar.card.content import make
from plumbstar.card.model import Card

__all__ = ["Card", "make"]
