"""Where sun and moon stand, on which clock, and how much light they and the sky give."""
