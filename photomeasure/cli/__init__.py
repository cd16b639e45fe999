"""The command line: reads arguments, asks one question, prints one answer."""

from photomeasure.cli.group import COMMANDS, main, run

__all__ = ["COMMANDS", "main", "run"]
