"""The mount: its terms, the rotations they stand for, what is believed of them, and sightings."""
