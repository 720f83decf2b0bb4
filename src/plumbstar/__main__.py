"""``python -m plumbstar``."""

from plumbstar.cli import main

if __name__ == "__main__":
    main()
