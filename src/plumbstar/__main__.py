"""``python -m plumbstar``."""

from plumbstar.cli import main

main()
