"""How the sheet itself may end a stage."""

ENDINGS = {
    "torn": "TORN",
    "burst": "GAVE WAY",
    "broken": "WALL YIELDED",
    "curled": "RIM CURLED",
    "crushed": "WALL CRUSHED",
    "folded": "WALL FOLDED",
}
"""Words for the reasons for which the sheet itself ended a stage."""
