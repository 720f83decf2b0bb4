"""What the commands print with ``--json``: one file a command."""
