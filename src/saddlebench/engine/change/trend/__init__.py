"""Trends over many visits: where each number of a back is going, and when to look again."""
