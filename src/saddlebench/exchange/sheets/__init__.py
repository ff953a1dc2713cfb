"""Trace sheets: paper to trace a flexible curve on, with markers by which a photo of it is measured."""
