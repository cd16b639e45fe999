"""The list of commands, each in a module that is loaded only when it is called."""

import contextlib
import sys
from collections.abc import Sequence
from importlib import import_module

import click

from photomeasure.cli.report import EXIT_OK, tell_bug, tell_error
from photomeasure.errors import PhotomeasureError, UsageError

__all__ = ["COMMANDS", "main", "run"]

COMMANDS = {
    "print": ("prints", "Write a printable reference."),
    "fitting": ("measuring", "Measure a male thread lying on the sheet."),
    "port": ("measuring", "Measure a female port with a collar round it."),
    "route": ("measuring", "Measure a route."),
    "caliper": ("readings", "Check caliper and pitch-gauge readings."),
    "threads": ("tables", "List threads and their limits of size."),
    "camera": ("measuring", "Learn a phone's lens from photos of the sheet."),
    "cut": ("jobs", "Work out the cut length of a job."),
    "jobsheet": ("jobs", "Write the printable job sheet."),
    "demo": ("jobs", "Run a whole job on the sample images."),
    "app": ("web", "Serve the web app."),
}


class _LazyGroup(click.Group):
    """Imports a command's module when the command is called, not before."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module = import_module(f"photomeasure.cli.{COMMANDS[cmd_name][0]}")
        command = getattr(module, f"{cmd_name}_command")
        if not isinstance(command, click.Command):
            raise TypeError(f"{cmd_name} is no command")
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(name, summary) for name, (_, summary) in COMMANDS.items()])


@click.group(cls=_LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="photomeasure")
def _photomeasure() -> None:
    """Measure fluid fittings and hose routes from photos of a printed reference.

    Print the sheet at full size, measure its two check bars with a caliper, lay the fitting on
    it, take the photo, and ask. Lengths carry their unit: 15.9mm, 5/8in, 40thou.
    """


def run(arguments: Sequence[str]) -> int:
    """Carry out one command line.

    Parameters
    ----------
    arguments : sequence of str
        Without the program's name.

    Returns
    -------
    int
        0 answered, 2 the command line is wrong, 3 refused, 4 a mistake of the program.
    """
    as_json = "--json" in arguments
    try:
        _demand_text(arguments)
        return _run(arguments)
    except click.ClickException as error:
        return tell_error(_usage(error), as_json=as_json)
    except PhotomeasureError as error:
        return tell_error(error, as_json=as_json)
    except click.Abort:
        return tell_error(UsageError("Stopped.", "Start the command again."), as_json=as_json)
    except BrokenPipeError:
        return EXIT_OK
    except Exception as error:  # the last resort: log it and say so
        return tell_bug(error, as_json=as_json)


def _demand_text(arguments: Sequence[str]) -> None:
    if any("\0" in argument for argument in arguments):
        raise UsageError("The command line holds a NUL character.", "Write it again without it.")


def _run(arguments: Sequence[str]) -> int:
    result = _photomeasure.main(list(arguments), prog_name="photomeasure", standalone_mode=False)
    return result if isinstance(result, int) else EXIT_OK


def _usage(error: click.ClickException) -> UsageError:
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        return UsageError("No command was given.", "See photomeasure --help.")
    context = getattr(error, "ctx", None)
    command = context.command_path if context else "photomeasure"
    message = error.format_message().rstrip(".") + "."
    return UsageError(message, f"See {command} --help.")


def main() -> None:
    """Run the program's own command line and leave with its exit code."""
    code = run(sys.argv[1:])
    with contextlib.suppress(BrokenPipeError):
        sys.stdout.flush()
    sys.exit(code)
