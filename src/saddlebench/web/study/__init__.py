"""Fit checks: asked for, watched, looked at, changed to see what would come of it."""
