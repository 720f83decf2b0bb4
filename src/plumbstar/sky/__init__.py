"""The sky alone: catalogue, places, times, bodies, events. Knows nothing of telescopes."""
