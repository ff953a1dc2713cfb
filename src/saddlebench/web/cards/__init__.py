"""Yard cards: the visit's and the capture's own fields on paper, for the day when everything is flat."""
