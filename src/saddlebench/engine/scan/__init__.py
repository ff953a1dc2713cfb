"""Scans of anything that stands on the ground: thinned, parted, levelled, mirrored, laid on each other."""
