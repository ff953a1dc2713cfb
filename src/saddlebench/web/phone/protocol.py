"""What phone and program speak with each other, as a number that only ever goes up."""

PROTOCOL = 1
"""Goes up with a change to entries that a program of before would misread; theirs are taken for ever."""


def is_spoken(protocol: object) -> bool:
    """Tell whether entries of a protocol are understood here: this one's, and all before it."""
    return type(protocol) is int and 1 <= protocol <= PROTOCOL
