"""``python -m vaporqa``."""

from vaporqa.cli import main

if __name__ == "__main__":
    main()
