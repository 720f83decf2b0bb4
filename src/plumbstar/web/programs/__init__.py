"""What every protocol for other software has in common: who may come in, where the telescope
points, a sync as a sighting, a slew as a target, and what is refused, the Sun's rules included."""
