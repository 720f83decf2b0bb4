"""Words, tables and files of text: what people read and write, whatever it is about."""
