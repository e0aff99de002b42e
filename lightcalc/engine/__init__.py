"""The light engine: a setup to illuminances, luminances and a picture."""
