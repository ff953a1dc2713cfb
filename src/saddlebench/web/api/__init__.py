"""The program interface: what a signed-in person can do, for other programs, by tokens."""
