"""One file for each command; ``plumbstar.cli`` loads only the one that was asked for."""
