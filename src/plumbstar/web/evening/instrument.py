"""The telescope in use: its kit, the eyepiece in the focuser, and what is believed of its mount."""

from __future__ import annotations

import msgspec

from plumbstar import kit as kits
from plumbstar.diagnose.learn import Learnt
from plumbstar.kit import Eyepiece, Kit
from plumbstar.logbook import Logbook
from plumbstar.mount.priors import Noise, Priors
from plumbstar.targets.learnt_eye import LearntEye
from plumbstar.web.evening.desk import DeskKeeper

KIT_TEXT = "kit_toml"  # a setting in the logbook
#: For what the learnt priors were worked out: the kit's text, the outing's id, the mends' ids.
LearningKey = tuple[str, int | None, tuple[int, ...]]


def same_circles(a: Kit, b: Kit) -> bool:
    """Whether sightings made with the one fit the other."""
    return (a.name, a.circles) == (b.name, b.circles)


class Instrument:
    """``priors`` are the kit's own until past outings have taught better ones (``learnt``).

    ``encoders`` False: readings are typed, whatever encoders the kit has.
    """

    def __init__(self, book: Logbook, keeper: DeskKeeper, encoders: bool) -> None:
        self._book, self._keeper, self._encoders = book, keeper, encoders
        self.kit = Kit()
        self.kit_text = ""
        #: Whether a file gave it when the pages were started.
        self.of_file = False
        self.priors = Priors.from_kit(self.kit)
        self.learnt: Learnt | None = None
        #: What the observer's looks taught of eye and sky; None until it was worked out.
        self.eye: LearntEye | None = None
        self.learnt_for: LearningKey | None = None
        self.mends: tuple[int, ...] = ()

    @staticmethod
    def read(text: str) -> Kit:
        """A kit file's text. Raises UserError for one that is wrong."""
        return kits.loads(text)

    def take(self, text: str) -> None:
        """This kit file's text from now on. What was learnt of another one is put away."""
        self.kit = kits.loads(text)
        # Beside a closed controller there are none that could be heard.
        if not self._encoders and self.kit.connection.kind != "controller":
            self.kit = msgspec.structs.replace(self.kit, connection=kits.Connection())
        self.kit_text = text
        self.read_mends()
        self.learnt, self.learnt_for = None, None
        self.priors = Priors.from_kit(self.kit)

    def read_mends(self) -> None:
        """Which mends of this kit there are: with others, other things were learnt."""
        self.mends = tuple(m.id for m in self._book.mends(self.kit.name))

    def last(self) -> str:
        """The kit text used last, from the logbook; empty for none."""
        return self._book.get_setting(KIT_TEXT) or ""

    def remember(self, text: str) -> None:
        """For the next start."""
        if text != self.last():
            self._book.set_setting(KIT_TEXT, text)

    def take_learnt(self, learnt: Learnt, key: LearningKey) -> None:
        """What past outings teach of this mount."""
        self.learnt, self.learnt_for = learnt, key
        self.priors = learnt.priors

    @property
    def noise(self) -> Noise:
        """How well this telescope is read and its stars are centred, by this observer."""
        return Noise.from_kit(self.kit) if self.learnt is None else self.learnt.noise(self.kit)

    @property
    def eyepiece(self) -> Eyepiece:
        """The eyepiece in use: the one chosen, else the widest."""
        chosen = self._keeper.desk.eyepiece
        if chosen:
            for e in self.kit.eyepiece:
                if e.name == chosen:
                    return e
        return self.kit.finder_eyepiece()

    @property
    def field_deg(self) -> float:
        """True field of the eyepiece in use, degrees."""
        return self.kit.true_field_deg(self.eyepiece)

    def set_eyepiece(self, name: str) -> None:
        """The eyepiece that is in the focuser now. A search was for the other one's field."""
        self._keeper.change(eyepiece=self.kit.eyepiece_named(name).name, sweep=None)
