"""Saddles: trees, panels, channel, girthing, materials; from numbers, sections or a mesh."""
