"""Day before month, 24 hours: what a workshop writes on a tag."""

DATE_FORMAT, TIME_FORMAT, DATETIME_FORMAT = "j M Y", "H:i", "j M Y, H:i"
