"""Telescopes that do not exist: hidden mounts, faults, a hand, boards, invented evenings."""
