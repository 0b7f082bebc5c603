"""Lets `python -m coretrack` do the same as the `coretrack` command."""

from coretrack.cli.main import main

if __name__ == "__main__":
    main()
