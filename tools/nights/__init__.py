"""Random evenings in virtual time (python tools/evenings.py): the hidden truth is worked out here,
without the solver's geometry, and the tool is asked through its own bytes and presses."""
