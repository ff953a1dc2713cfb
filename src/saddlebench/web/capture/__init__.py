"""Measuring: backs by number pad, instruments, saddles by their numbers, and a back's page."""
