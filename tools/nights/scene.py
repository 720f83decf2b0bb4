"""What is looked at, by which kit, and when."""

from plumbstar import kit as kits
from plumbstar.commands.simulate import with_counts_from_zero
from plumbstar.sky.times import Instant

START = Instant.parse("2027-01-28T18:00:00Z").to_unix()
STARS = (
    "Capella", "Rigel", "Pollux", "Castor", "Aldebaran", "Regulus", "Procyon", "Sirius", "Polaris",
    "Dubhe", "Alkaid", "Betelgeuse", "Bellatrix", "Alpheratz", "Mirfak", "Hamal", "Menkalinan",
    "Alhena", "Elnath", "Merak", "Algol", "Deneb", "Schedar", "Caph", "Mirach", "Almach", "Saiph",
)  # fmt: skip
TARGETS = (
    "M 42", "M 45", "M 31", "M 35", "M 37", "M 81", "M 44", "NGC 2392", "M 67", "M 51", "M 1",
    "M 34", "M 41", "M 46", "NGC 457", "NGC 869", "M 33", "M 74", "M 97",
)  # fmt: skip
#: Looked for by day, too: some stand within 20 degrees of the Sun in that week.
NEAR_THE_SUN = ("M 72", "M 73", "M 30", "M 75", "NGC 7009", "M 15", "M 2")
#: A hand at a star, arcmin on each axis; the kit says 6.
CENTRING_ARCMIN = 6.0


def kit_text(slow: bool, from_zero: bool) -> str:
    """Of the board, and whether the kit itself says that it counts from zero."""
    text = kits.example_text().replace(
        'kind = "typed" ',
        'kind = "tcp"\nhost = "127.0.0.1"\n'
        "port = 5050\npushed = true\n"
        f"interval_ms = {1000 if slow else 50}\n#",
        1,
    )
    if from_zero:
        text = with_counts_from_zero(text)
    kits.loads(text)
    return text
