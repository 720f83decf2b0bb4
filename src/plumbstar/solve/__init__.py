"""From sightings and priors to a fix: every term with its covariance, and the chance to hit."""
