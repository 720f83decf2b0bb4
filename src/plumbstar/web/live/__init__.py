"""What goes on while the server runs: the evening's thread, the board, the stream, the actions."""
