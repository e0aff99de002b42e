"""The set as data, to and from a text file."""
