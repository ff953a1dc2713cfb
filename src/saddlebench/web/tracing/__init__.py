"""Tracings on paper: sheets to print, photos of them read, looked at, and kept as readings."""
