"""Sections of an invented keeper's garden.toml, to be put together in this order.

Keys that follow a section belong to it, so each may be added to.
"""

PLACE = """
[garden]
name = "Orchard End"
latitude = 46.05
longitude = 14.51
elevation_m = 300
timezone = "Europe/Ljubljana"
"""
HANDS_ON = """
[hands_on]
weekdays = ["06:30-07:30", "17:00-21:00"]
weekends = ["08:00-21:00"]
"""
MEANS = """
[means]
fleece_layers = 1
"""
BENCH = """
[[spot]]
name = "top bench"
kind = "bench"
sun = "08:00-18:00"
"""
SHED = """
[[spot]]
name = "shed"
kind = "shed"
"""
EMBER = """
[[tree]]
name = "Ember"
species = "Acer palmatum"
litres = 4
spot = "top bench"
"""
HEATH = """
[[tree]]
name = "Heath"
species = "Pinus sylvestris"
litres = 9
tied = true
limits = { leaf_frost_c = -4 }
spot = "top bench"
"""
FIG = """
[[tree]]
name = "Fig"
species = "Ficus microcarpa"
litres = 3
spot = "top bench"
"""
