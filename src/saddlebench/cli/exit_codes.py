"""What a command's exit status means; one meaning each."""

from enum import IntEnum


class Exit(IntEnum):
    """Exit statuses. A finding "not right" is a result, not an error."""

    DONE = 0
    WRONG_INPUT = 1
    """What was given is wrong; the message says where."""
    MISUSE = 2
    """The command was called wrongly (unknown option, missing argument)."""
    PROGRAM_FAULT = 3
    """The program itself failed; the full account lies in the data folder."""
