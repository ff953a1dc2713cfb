"""Fit checks as pages and other programs share them: run beside the pages, read once, drawn once."""
