"""Questions asked of a lit setup, or of the clock."""
