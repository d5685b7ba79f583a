"""What everything else stands on: three-valued truth, values and units, calendar dates, files and their problems."""
