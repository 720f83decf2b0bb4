"""Which stars the nameless sightings were of."""
