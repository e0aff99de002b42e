"""Closed forms: arrays in, arrays out; no scene."""
