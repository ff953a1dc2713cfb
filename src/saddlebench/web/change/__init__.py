"""What changed between a horse's records, how sure that is, and what it means for its saddles."""
