"""Names and numbers that options and the rooms below share: what holds unless told otherwise.

Plain values, and nothing imported: a command's help shows them without what they are for.
"""

from __future__ import annotations

#: Where the pages are served: a port of which neither /etc/services nor memory knows a use, below
#: those that systems hand out themselves (common practice, no source).
PORT = 8273
#: Where programs ask for devices: the Alpaca standard's own.
DISCOVERY_PORT = 32227
#: Variables of the environment that name files.
LOGBOOK_VARIABLE = "PLUMBSTAR_LOGBOOK"
OBJECTS_VARIABLE = "PLUMBSTAR_OBJECTS"
#: How an eyepiece may show the sky (eyeview/orientation.py has what each is).
VIEWS = ("upright", "turned", "mirrored", "mirrored_turned")
#: What the number of a closed controller is, measured angle or true one first.
SIGNS = ("measured-minus-true", "true-minus-measured")
