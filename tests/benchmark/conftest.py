"""The benchmark is run by hand, never collected."""

collect_ignore = ["bench.py"]
