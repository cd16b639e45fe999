"""Run the command line."""

from photomeasure.cli import main

__all__ = ["main"]

if __name__ == "__main__":
    main()
