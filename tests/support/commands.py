"""What tests of the commands share."""

from collections.abc import Callable

from click.testing import Result

Run = Callable[..., Result]
"""Runs a command, words as on a command line."""
