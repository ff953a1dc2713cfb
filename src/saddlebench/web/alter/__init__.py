"""What to do about a fit check: a plan sought or tried by hand, before and after, kept as a record."""
