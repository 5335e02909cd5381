"""Days and times as German papers write them."""

DATE_FORMAT, TIME_FORMAT, DATETIME_FORMAT = "j. F Y", "H:i", "j. F Y, H:i"
