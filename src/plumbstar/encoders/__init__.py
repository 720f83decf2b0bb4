"""From the bytes of an encoder board to readings."""
