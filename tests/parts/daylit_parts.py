"""Three places under the day's own light: a kitchen at two, a quay at six, and the same quay as a yard by full moon."""

PLACE = 'title = "Tide"\nlatitude_deg = 54.1\nlongitude_deg = 8.6\ntime_zone = "Europe/Berlin"\n'
KITCHEN = (
    PLACE
    + """dates = [2028-08-20]
[rooms.kitchen]
width_m = 5
depth_m = 4
height_m = 2.6
bearing_deg = 0
[[rooms.kitchen.windows]]
name = "south"
wall = "near"
centre_m = 2.5
sill_m = 0.9
width_m = 1.4
height_m = 1.3
glass = 0.9
[[setups]]
name = "1"
place = "kitchen"
time = "14:00"
outlook = "clear"
[setups.camera]
at = [4.5, 3.5, 1.5]
aim = [2.0, 1.0, 1.0]
[[setups.marks]]
name = "table"
at = [2.2, 0.95, 0.75]
aim = [2.2, 0.95, 1.75]
"""
)
QUAY = (
    PLACE
    + """dates = [2028-08-20]
[exteriors.quay]
width_m = 20
depth_m = 20
[[setups]]
name = "1"
place = "quay"
time = "18:00"
[setups.camera]
at = [4.5, 3.5, 1.5]
aim = [10, 10, 1]
[[setups.marks]]
name = "bollard"
at = [10, 10, 1]
aim = [10, 10, 2]
"""
)
YARD = QUAY.replace("2028-08-20", "2028-09-04").replace("18:00", "00:30")
