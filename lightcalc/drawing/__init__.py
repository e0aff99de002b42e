"""Drawings onto a given axes: to scale, in stops, against the clock."""
