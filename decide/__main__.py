"""Runs the command: `python -m decide` is `mendpoint`."""

from .show.cli.main import main

if __name__ == "__main__":
    main()
