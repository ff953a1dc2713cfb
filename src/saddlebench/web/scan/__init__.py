"""Scans of a back: taken in, looked at, their unit asked, their marks corrected, recorded."""
