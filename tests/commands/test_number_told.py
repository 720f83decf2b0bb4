"""A newcomer's message about a controller's number is answered as the number itself is."""

import json

import pytest
from click.testing import CliRunner

from plumbstar.cli import group
from plumbstar.commands.number_told import NumberTold, number_told

WHERE = ["--site", "47.2,11.6,940", "--utc", "2027-01-28T18:30:00Z", "--json"]


@pytest.mark.parametrize(
    "text",
    [
        "it shows +1.4 after Capella and Deneb",
        "Hi! My controller says 1,4° after Capella, then Deneb. Is that bad?",
        "the number is 1.4 with Capella and Deneb",
    ],
)
def test_what_it_tells(text):
    assert number_told(text) == NumberTold(1.4, "Capella", "Deneb")


def test_other_messages_are_not_taken_for_it():
    assert number_told("Capella az 83.1 alt 61.2, Deneb az 305.2 alt 25.0") is None


def test_the_answer_is_that_of_the_number():
    told = CliRunner().invoke(
        group, ["why", "--coach", "it shows -0,9 after Capella and Deneb", *WHERE]
    )
    at = "2027-01-28T18:30:00Z"
    same = CliRunner().invoke(
        group,
        ["why", "--shown", "-0.9", "--star-a", "Capella", "--time-a", at, "--star-b", "Deneb",
         "--time-b", at, *WHERE[:2], "--json"],
    )  # fmt: skip
    assert json.loads(told.output) == json.loads(same.output)
