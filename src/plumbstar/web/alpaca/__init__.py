"""The telescope for other software, under the open ASCOM Alpaca standard; docs/other-software.md.

Words, routes and numbers are the standard's, from memory of its published API reference (version 1,
telescope interface version 3); tests drive it with the standard's own Python client library.
"""
