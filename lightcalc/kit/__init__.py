"""What lamps, boards, cloths, gels and haze droplets are."""
