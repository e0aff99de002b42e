"""The script that makes the stored answers needs a path tracer: it is run by hand, never collected."""

collect_ignore = ["make_reference.py"]
