"""What causes share whose evidence is a claim, and how well the sightings agree with it."""

from __future__ import annotations

from plumbstar.diagnose.explain.forms import Form, Judged, Observations
from plumbstar.diagnose.explain.sizes import then


class Claimed(Form):
    """A form that says what would be so in :meth:`claim`."""

    def evidence(self, o: Observations, j: Judged, nothing: Judged) -> str:
        return f"{self.claim(o, j)}; {then(j, nothing)}."
