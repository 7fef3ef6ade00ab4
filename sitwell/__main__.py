"""``python -m sitwell``."""

from sitwell.ui.cli import main

if __name__ == "__main__":
    main()
