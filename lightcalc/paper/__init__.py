"""Printed pages: PDF."""
