"""Repeat sets of one back: how well it is measured twice."""
