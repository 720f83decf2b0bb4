"""What to do next, as data; words are made of it last: once for a terminal, once for the pages.

Only advice that differs between the two stands here: a command or an option leads nowhere on a
phone, and a page cannot be typed. What reads the same in both places is plain text where it arises.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum, auto

#: The bench checks by their names, and what each is called on a screen: advice sends people there
#: from many places.
CHECK_TITLES = {
    "once-round": "Once round and back to the same mark",
    "there-and-back": "A long swing and back to the same mark",
    "stop-repeat": "The stop ten times",
    "stop-direction": "Which way adding thickness tips the tube",
    "backlash": "Play, from both sides",
    "level": "Why the base need not be level",
    "both-sides": "A distant mark, directly and over the top",
    "drift-field": "An eyepiece's true field, by the sky's own turn",
    "number-sign": "Which way the controller’s number counts",
}


class Do(Enum):
    """Each is one thing to do; beside it what :attr:`Advice.about` names."""

    WEIGH_CAUSES = auto()
    NAME_THE_STARS = auto()
    ADD_SIGHTINGS = auto()
    ADD_SIGHTINGS_OR_GIVE_CENTRING = auto()
    LOG_AN_EVENING = auto()
    LIST_OUTINGS = auto()
    FIND_A_DELETED_OUTING = auto()
    LIST_SIGHTINGS = auto()  # the outing's number
    BRING_BACK_AN_OUTING = auto()  # its number
    CORRECT_TIMES = auto()  # by how many seconds
    BRING_BACK_THE_GOOD_COPY = auto()  # the logbook's path, or nothing for the usual one
    BRING_BACK_OR_GO_ON_WITHOUT = auto()  # the same
    SAVE_WHAT_CAN_BE_READ = auto()  # the same
    SAVE_OR_GO_ON_WITHOUT = auto()  # the same
    MAKE_THE_LOGBOOK_WRITABLE = auto()
    NAME_ANOTHER_LOGBOOK = auto()
    CHECK_WHICH_LOGBOOK = auto()
    UPDATE_OR_NAME_ANOTHER_LOGBOOK = auto()
    DO_A_CHECK = auto()  # the check's name
    FIND_OUT_BY_A_CHECK = auto()  # the check's name
    CHECK_OVER_THE_TOP = auto()
    READ_THE_CHECK = auto()  # the check's name and the input's, with a colon between
    CHOOSE_A_CHECK = auto()
    FIND_WHICH_WAY_THE_STOP_WORKS = auto()
    FIND_THE_CONE_FROM_STARS = auto()
    READ_OF_SHIMS = auto()
    TELL_OF_SHIMS = auto()  # the pieces, as they are typed
    SAY_WHERE_THE_STAR_WAS = auto()
    TAKE_A_SECOND_PICTURE = auto()
    GIVE_THE_DEFOCUS = auto()
    CHANGE_THE_GPS_SPEED = auto()
    PUT_IN_ELEMENTS = auto()
    LIST_ELEMENTS = auto()
    TURN_CIRCLES = auto()  # the kit's headings


_WORDS: dict[Do, tuple[str, str]] = {
    Do.WEIGH_CAUSES: (
        "`plumbstar why` weighs the causes",
        "What went wrong? weighs the causes",
    ),
    Do.NAME_THE_STARS: (
        "`plumbstar fix` finds which star it was: write that name there",
        "On the computer, the fix command finds which star it was: write that name there",
    ),
    Do.ADD_SIGHTINGS: (
        "Add sightings, drop terms, or leave out --flat-priors",
        "Add sightings",
    ),
    Do.ADD_SIGHTINGS_OR_GIVE_CENTRING: (
        "Add sightings or give --centring-arcmin",
        "Add sightings",
    ),
    Do.LOG_AN_EVENING: (
        "Log an evening, or bring one in with `plumbstar log import`",
        "Sight stars on an evening: that is the first to tell",
    ),
    Do.LIST_OUTINGS: ("`plumbstar log` lists them", "The Log lists them"),
    Do.FIND_A_DELETED_OUTING: (
        "`plumbstar log` lists them; `plumbstar log undo` brings back the last deleted",
        "The Log lists them; Undo brings back the last deleted",
    ),
    Do.LIST_SIGHTINGS: ("`plumbstar log show {about}` lists them", "The Log lists them"),
    Do.BRING_BACK_AN_OUTING: (
        "`plumbstar log restore {about}` brings it back",
        "On the computer, the log command brings it back",
    ),
    Do.CORRECT_TIMES: (
        "For an outing in the logbook: `plumbstar log correct-time last --by {about}`",
        "For an outing in the logbook, use the log command on the computer",
    ),
    Do.BRING_BACK_THE_GOOD_COPY: (
        "`plumbstar log recover{logbook}` brings it back, with whatever can be read of what came "
        "later (docs/logbook.md, 'If the file is damaged')",
        "On the computer, the log command brings it back, with whatever can be read of what came "
        "later",
    ),
    Do.BRING_BACK_OR_GO_ON_WITHOUT: (
        "`plumbstar log recover{logbook}` brings it back. To go on without it instead, and keep it "
        "under another name: `plumbstar log recover --go-on-without{logbook}`",
        "Start the program again: the page then asks which one to go on with",
    ),
    Do.SAVE_WHAT_CAN_BE_READ: (
        "`plumbstar log recover{logbook}` saves what can still be read of it (docs/logbook.md, 'If "
        "the file is damaged')",
        "On the computer, the log command saves what can still be read of it",
    ),
    Do.SAVE_OR_GO_ON_WITHOUT: (
        "`plumbstar log recover{logbook}` brings back what can still be read of it. To go on "
        "without it instead, and keep it under another name: `plumbstar log recover "
        "--go-on-without{logbook}`",
        "Start the program again: the page then asks what to do",
    ),
    Do.MAKE_THE_LOGBOOK_WRITABLE: (
        "Make it writable, or name another logbook with --logbook or {about}",
        "Make it writable on the computer, or start the server with another logbook",
    ),
    Do.NAME_ANOTHER_LOGBOOK: (
        "Check the path and its rights, or name another with --logbook or {about}",
        "On the computer check the path and its rights, or start the server with another logbook",
    ),
    Do.CHECK_WHICH_LOGBOOK: (
        "Check --logbook and {about}",
        "On the computer, check which logbook the server was started with",
    ),
    Do.UPDATE_OR_NAME_ANOTHER_LOGBOOK: (
        "It was left as it is. Update Plumbstar, or name another logbook with --logbook",
        "It was left as it is. Update Plumbstar, or start the server with another logbook",
    ),
    Do.DO_A_CHECK: ("`plumbstar check {about}`", "Mend, Checks, “{title}”"),
    Do.FIND_OUT_BY_A_CHECK: (
        "Find out once with `plumbstar check {about}`",
        "Find out once with Mend, Checks, “{title}”",
    ),
    Do.CHECK_OVER_THE_TOP: (
        "`plumbstar check both-sides` if it can pass over the top",
        f"Mend, Checks, “{CHECK_TITLES['both-sides']}” if it can pass over the top",
    ),
    Do.READ_THE_CHECK: (
        "`plumbstar check {about}` tells how to get it; give it as {key}=...",
        "Mend, Checks, “{title}” tells how to get it",
    ),
    Do.FIND_WHICH_WAY_THE_STOP_WORKS: (
        "`plumbstar check stop-direction` says which way",
        f"Mend, Checks, “{CHECK_TITLES['stop-direction']}” says which way",
    ),
    Do.CHOOSE_A_CHECK: ("`plumbstar check` lists them", "Mend, Checks lists them"),
    Do.FIND_THE_CONE_FROM_STARS: (
        "This check is not for it: `plumbstar fix` finds the cone from stars. If the tube can pass "
        "over, correct the kit",
        "This check is not for it: the Fix page finds the cone from stars. If the tube can pass "
        "over, correct the kit",
    ),
    Do.READ_OF_SHIMS: ("docs/shims.md tells how", "Mend, Many nights tells how"),
    Do.TELL_OF_SHIMS: (
        '`plumbstar log mend "shimmed" --added-mm={about}` tells the logbook, when it is done',
        "When it is done, say so on Mend, Many nights",
    ),
    Do.TAKE_A_SECOND_PICTURE: (
        "A second picture, racked in by as much, parts them",
        "A second picture, below, parts them",
    ),
    Do.SAY_WHERE_THE_STAR_WAS: (
        "No picture tells where the star stood in the eyepiece: with `--star` this is surer",
        "No picture tells where the star stood in the eyepiece: say it above, and this is surer",
    ),
    Do.GIVE_THE_DEFOCUS: (
        "Say how far it stood to have it in millimetres",
        "Give “How far the focuser was moved” above, and it is told in millimetres",
    ),
    Do.PUT_IN_ELEMENTS: (
        "Put one in: `plumbstar orbits add FILE`; docs/moving.md says where to get it",
        "Put one from the Minor Planet Center into the folder of elements, beside the logbook",
    ),
    Do.LIST_ELEMENTS: (
        "`plumbstar orbits list` names them",
        "On the computer, the orbits command lists them",
    ),
    Do.TURN_CIRCLES: (
        "In the kit: the other value of `reversed` under {about}",
        "The button does it, as does Prepare, Your telescope",
    ),
    Do.CHANGE_THE_GPS_SPEED: (
        "Try another speed, as PORT@4800, or another port",
        "On the computer, start the server with another speed or port for the GPS",
    ),
}


@dataclass(frozen=True)
class Advice:
    """``about``: what the thing to do is done with, where :class:`Do` says so. ``first``: a
    sentence to be said before it, which is the same in both places.

    ``str`` of it is its words for a terminal, without a full stop.
    """

    do: Do
    about: str = ""
    first: str = ""

    def __str__(self) -> str:
        return self._filled(_WORDS[self.do][0])

    def on_pages(self) -> str:
        """The same for whoever has only the pages."""
        return self._filled(_WORDS[self.do][1])

    def _filled(self, words: str) -> str:
        about, _, key = self.about.partition(":")
        logbook = f" --logbook {self.about}" if self.about else ""
        title = CHECK_TITLES.get(about, about)
        said = words.format(about=about, key=key, title=title, logbook=logbook)
        return f"{self.first} {said}" if self.first else said
