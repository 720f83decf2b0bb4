"""The telescope for other software, under the open INDI protocol; docs/indi.md.

Elements, attributes and states are those of the protocol's published paper (version 1.7), the
properties' names those of its list of standard properties: both from memory, neither could be had
here. Tests drive it with a client library of the protocol that others wrote.
"""
